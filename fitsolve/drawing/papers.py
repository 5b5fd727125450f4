"""Papers: the sizes that are printed on.

Letter is 8 1/2 by 11 in (ANSI/ASME Y14.1, size A); A4 is 210 by 297 mm (ISO 216). A roll is as long as
what is printed on it, up to what a PDF can hold on one page: 14,400 points, 5,080 mm (ISO 32000-1,
annex C; from memory).
"""

from __future__ import annotations

from fitsolve.light import dataclass

MARGIN_MM = 12.7
"""Half an inch on a strip, where nothing may be lost at the edge."""
SHEET_MARGIN_MM = 10.0
"""Few printers print closer to the edge than a quarter of an inch (common practice, no source)."""
ROLL_PIECE_MM = 5000.0


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper as it lies. `bands` is how many pieces of a strip stand under each other on it."""

    name: str
    width_mm: float
    height_mm: float
    margin_mm: float = MARGIN_MM
    bands: int = 1
    endless: bool = False

    @property
    def room_mm(self) -> float:
        """What there is between the margins, across."""
        return self.width_mm - 2 * self.margin_mm


SHEETS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
STRIPS = {
    "letter": Paper("letter", 279.4, 215.9, bands=2),
    "a4": Paper("a4", 297.0, 210.0, margin_mm=12.5, bands=2),
    "roll": Paper("roll", ROLL_PIECE_MM, 130.4, bands=1, endless=True),
}


def usual_paper(unit: str) -> str:
    """Return the paper that goes with the unit of a build."""
    return "letter" if unit == "in" else "a4"
