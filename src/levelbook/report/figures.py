"""Numbers as a report prints them, in the book's units and with a true minus sign.

± is half of the 95 % interval everywhere in the report, as in the findings' sentences; a
standard deviation is never joined by ± but stands in a place of its own, named ``sd``.
"""

from dataclasses import dataclass

from levelbook.book.model import Point, Units
from levelbook.findings.display import length_text, one_in_text, slope_text, slope_unit

MINUS = "−"
NONE = "–"
NBSP = "\u00a0"


def number(value: float, places: int, *, signed: bool = False) -> str:
    """Return ``value`` to ``places`` decimals; a value that rounds to 0 has no sign."""
    text = f"{abs(value):.{places}f}"
    if not any(c in "123456789" for c in text):
        return text
    return (MINUS if value < 0 else "+" if signed else "") + text


def written(value: float) -> str:
    """Return a number of the document as short as it can be written."""
    return f"{value:g}".replace("-", MINUS)


@dataclass(frozen=True, slots=True)
class Figures:
    """Prints the quantities of one book in its units; ``places`` are the decimals of a level."""

    units: Units
    places: int

    def level(self, value: float | None, *, minus: bool = False) -> str:
        """Return a level, height or correction with its sign, without the unit."""
        if value is None:
            return NONE
        return number(-value if minus else value, self.places, signed=True)

    def sd(self, value: float | None) -> str:
        """Return a standard deviation in level units, never as 0 where it is not."""
        if value is None:
            return NONE
        least = 0.5 * 10.0**-self.places
        return number(value, self.places + 1 if 0 < value < least else self.places)

    def height(self, value: float, sd: float, *, signed: bool = False) -> str:
        """Return a height with ± and its unit; ``signed`` writes a plus too."""
        told, half = length_text(value, sd, self.units.level)
        return f"{_signed(told, signed)} ± {half} {self.units.level}"

    def length(self, value: float) -> str:
        """Return a horizontal distance with its unit."""
        return f"{number(value, 1)} {self.units.plan}"

    def place(self, at: Point) -> str:
        """Return a place on the plan as "x, y" with the unit, which does not break."""
        return f"{number(at[0], 1)},{NBSP}{number(at[1], 1)}{NBSP}{self.units.plan}"

    def slope(self, value: float, sd: float) -> str:
        """Return a slope (rise over run) with ± in the trade's unit."""
        unit = slope_unit(self.units.level)
        told, half = slope_text(abs(value), sd, unit)
        return f"{told} ± {half} {unit}"

    def percent(self, slope: float, sd: float) -> str:
        """Return a slope (rise over run) with ± in percent."""
        told, half = slope_text(abs(slope), sd, "percent")
        return f"{told} ± {half} %"

    def one_in(self, slope: float, sd: float) -> str:
        """Return a slope as "1 in N" with the N of its 95 % interval."""
        return one_in_text(slope, sd)


def _signed(text: str, plus: bool) -> str:
    """Return a rounded number's text with a true minus, or a plus where asked for."""
    if text.startswith("-"):
        return MINUS + text[1:]
    return "+" + text if plus and any(c in "123456789" for c in text) else text


def grouped(digest: str) -> str:
    """Return the first 24 digits of a fingerprint in fours, for eye and ear."""
    return " ".join(digest[i : i + 4] for i in range(0, 24, 4))
