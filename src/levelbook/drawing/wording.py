"""Numbers and short phrases as they stand on drawings."""

from math import floor, hypot, log10

from levelbook.book.model import Book, Units
from levelbook.book.units import rise_per_run
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


def plus_minus(sd: float, decimals: int) -> str:
    """Return the half-width of the 95 % interval, written with its sign."""
    return f"±{NBSP}{Z95 * sd:.{decimals}f}"


def slope_words(slope: float, sd: float, units: Units) -> str:
    """Return a slope with its 95 % interval in the wording of the trade."""
    if units.level == "in" and units.plan == "ft":
        factor, unit, places = 240.0, "in per 20 ft", 2
    elif units.level == "mm" and units.plan == "m":
        factor, unit, places = 1000.0, "mm per m", 1
    else:
        factor, unit, places = 100.0, "%", 2
    return f"{factor * slope:.{places}f} {plus_minus(factor * sd, places)} {unit}"


def ratio_words(length: float, deflection: float, sd: float) -> str:
    """Return a deflection ratio as 1 in N with the 95 % interval of N.

    ``length``, ``deflection`` and ``sd`` are in one unit. Where the interval of the
    deflection holds 0, only the steeper end can be told.
    """
    least, most = abs(deflection) - Z95 * sd, abs(deflection) + Z95 * sd
    if most <= 0.0:
        return "straight"
    if least <= 0.0:
        return f"flatter{NBSP}than 1{NBSP}in{NBSP}{_round(length / most)}"
    near = f"1{NBSP}in{NBSP}{_round(length / abs(deflection))}"
    return f"{near} ({_round(length / most)}{NBSP}to{NBSP}{_round(length / least)})"


def _round(value: float) -> str:
    """Return a ratio with two or three figures, which is all it can bear."""
    step = 10.0 ** max(0, floor(log10(max(value, 1.0))) - 1)
    return f"{round(value / step) * step:,.0f}"


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
