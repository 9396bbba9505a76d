"""Where each label lies on its sheet, in millimetres, and where its code and number lie on the label."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import msgspec

STOCKS = Path(__file__).with_name("label_stocks.json")
INSET_MM = 3.0
MOST_CODE_MM = 26.0
MOST_CODE_FRAC = 0.36
"""Of the width of a wide label: a greater code is read from further off."""
QUIET_MODULES_N = 4


@dataclass(frozen=True)
class Nudge:
    """How far a printer is off, and so how far everything is moved; at most 2 mm each way."""

    right_mm: float = 0.0
    down_mm: float = 0.0


class LabelStock(msgspec.Struct, frozen=True):
    """One kind of label sheet."""

    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    columns: int
    rows: int
    first_mm: tuple[float, float]
    pitch_mm: tuple[float, float]

    @property
    def n_per_page(self) -> int:
        """Return how many labels a page holds."""
        return self.columns * self.rows

    @property
    def code_mm(self) -> float:
        """Return the side of a code, its quiet zone included."""
        return min(self.label_mm[1] - 2.0 * INSET_MM, max(MOST_CODE_MM, MOST_CODE_FRAC * self.label_mm[0]))

    def corner_mm(self, place: int, nudge: Nudge = Nudge()) -> tuple[float, float]:
        """Return the top left corner of a label on its page."""
        row, column = divmod(place, self.columns)
        return (
            self.first_mm[0] + column * self.pitch_mm[0] + nudge.right_mm,
            self.first_mm[1] + row * self.pitch_mm[1] + nudge.down_mm,
        )

    def code_corner_mm(self, place: int, nudge: Nudge = Nudge()) -> tuple[float, float]:
        """Return the top left corner of a label's code, its quiet zone included."""
        left, top = self.corner_mm(place, nudge)
        return left + INSET_MM, top + (self.label_mm[1] - self.code_mm) / 2.0


@cache
def label_stocks() -> dict[str, LabelStock]:
    """Read all label sheets the team may print on."""
    return msgspec.json.decode(STOCKS.read_bytes(), type=dict[str, LabelStock])
