"""What keeps a sheet from being printed."""

from dataclasses import dataclass

DEBIAN_PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"


class SheetsError(Exception):
    """Base of what goes wrong on the way to paper."""


@dataclass(eq=False)
class PaperUnavailable(SheetsError):
    """The server cannot make PDFs; the app prints by the browser and everything else works."""

    field: str = "pango"
    value: str = ""
    limit: str = f"the Debian packages {DEBIAN_PACKAGES} on the server; until then print from the Coolbox screen"

    def __str__(self) -> str:
        return f"PDFs need {self.limit}"


@dataclass(eq=False)
class NothingToPrint(SheetsError):
    """There is no sheet for the stage yet, or none that this person may print."""

    field: str
    value: str
    limit: str

    def __str__(self) -> str:
        return f"{self.field} = {self.value}: needs {self.limit}"
