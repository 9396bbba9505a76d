"""What is wrong with a file, in fields: the sentence is made at the edge."""

from dataclasses import dataclass


@dataclass(eq=False)
class FileProblem(ValueError):
    """A file that cannot be taken in: which field, the value met, the limit it breaks, and the line where known."""

    field: str
    value: str
    limit: str
    line: int | None = None

    def __str__(self) -> str:
        place = f" in line {self.line}" if self.line is not None else ""
        return f"{self.field} = {self.value}{place}: needs {self.limit}"
