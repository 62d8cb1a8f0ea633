"""Numbers and short phrases as they stand on drawings.

A figure with its 95 % interval is told by the rule of ``findings.display``, as in sentences.
"""

from math import floor, hypot, log10

from levelbook.book.model import Book, Units
from levelbook.book.units import rise_per_run
from levelbook.findings.display import one_in_text, rounded_up, slope_text, slope_unit, with_doubt
from levelbook.floor.model import Tilt

MINUS = "−"
NBSP = "\u00a0"
UNIT_WORDS = {"in": "inches", "mm": "millimetres"}
Z95 = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""

_POINTS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


def number(value: float, decimals: int, *, plus: bool = False) -> str:
    """Return a number with a true minus sign, and never a negative zero."""
    out = f"{abs(value):.{decimals}f}"
    if not any(c in "123456789" for c in out):
        return out
    return (MINUS if value < 0 else "+" if plus else "") + out


def decimals_of(book: Book) -> int:
    """Return the decimals of a level: one more than the finest instrument resolves."""
    finest = min((i.resolution for i in book.instruments), default=0.1)
    return min(max(floor(-log10(max(finest, 1e-6)) + 1e-9) + 1, 0), 4)


def decimals_for(step: float) -> int:
    """Return the decimals that a round step needs."""
    return max(0, -floor(log10(step) + 1e-9))


def nice_step(least: float) -> float:
    """Return the smallest of 1, 2, 5 times a power of ten that is at least ``least``."""
    power = 10.0 ** floor(log10(least) + 1e-9)
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= least * (1 - 1e-9))


def figure(value: float, sd: float, decimals: int, *, plus: bool = False) -> str:
    """Return a number with half of its 95 % interval, to ``decimals`` at most."""
    shown, half = with_doubt(value, sd, f"{10.0**-decimals:.{decimals}f}")
    return f"{_signed(shown, plus)} ±{NBSP}{half}"


def half_width(sd: float, decimals: int) -> str:
    """Return half of a 95 % interval, rounded up to ``decimals``."""
    return rounded_up(Z95 * sd, f"{10.0**-decimals:.{decimals}f}")


def _signed(shown: str, plus: bool) -> str:
    if shown.startswith("-"):
        return MINUS + shown[1:]
    return "+" + shown if plus and any(c in "123456789" for c in shown) else shown


def slope_words(slope: float, sd: float, units: Units) -> str:
    """Return a slope with its 95 % interval in the wording of the trade."""
    unit = slope_unit(units.level)
    shown, half = slope_text(slope, sd, unit)
    return f"{_signed(shown, False)} ±{NBSP}{half} {unit}"


def ratio_words(length: float, deflection: float, sd: float) -> str:
    """Return a deflection ratio as 1 in N with the 95 % interval of N.

    ``length``, ``deflection`` and ``sd`` are in one unit. Where the interval of the
    deflection holds 0, only the steeper end can be told.
    """
    return one_in_text(deflection / length, sd / length).replace("1 in ", f"1{NBSP}in{NBSP}")


def compass(direction: float, north: float | None) -> str | None:
    """Return the compass word of a direction on the sheet, ``None`` without a north."""
    if north is None:
        return None
    return _POINTS[round(((direction - north) % 360) / 45) % 8]


def direction_sd(tilt: Tilt) -> float:
    """Return the standard deviation of a tilt's direction in degrees, to first order."""
    square = tilt.x**2 + tilt.y**2
    if square == 0.0:
        return 180.0
    across = hypot(tilt.x * tilt.y_sd, tilt.y * tilt.x_sd) / square
    return min(180.0, across * 180.0 / 3.141592653589793)


def per_level(units: Units) -> float:
    """Return the factor that makes a dimensionless slope level units over plan units."""
    return 1.0 / rise_per_run(units)


def count(n: int, one: str, many: str) -> str:
    """Return a number with its noun."""
    return f"{n} {one if n == 1 else many}"
