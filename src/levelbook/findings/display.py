"""Numbers as a reader sees them: sensible decimals, always with their uncertainty.

The give-or-take is half of the 95 % interval, 1.96 sd, rounded up so that the interval shown
never tells less than there is; the value is rounded to the same step.
"""

import math
from collections.abc import Callable
from fractions import Fraction

from levelbook.findings.judge import Z95
from levelbook.findings.model import Finding
from levelbook.findings.quantities import factor

STEPS = {"in": "0.05", "mm": "1", "ft": "0.1", "m": "0.1"}
"""Finest step shown of a length, by unit, where readings stand behind it."""

SLOPE_STEPS = {
    "ratio": "0.0005",
    "percent": "0.05",
    "mm per m": "0.5",
    "in per ft": "0.01",
    "in per 20 ft": "0.05",
}
"""Finest step shown of a slope, by unit."""

COMPASS = tuple(f"compass.{way}" for way in ("n", "ne", "e", "se", "s", "sw", "w", "nw"))
SHEET = tuple(f"sheet.{way}" for way in ("n", "ne", "e", "se", "s", "sw", "w", "nw"))
"""Keys of the words for a direction, clockwise from north or from up the sheet."""


def stepped(value: float, step: str) -> str:
    """Return a value rounded to a step (decimal text), with the step's decimals, no ``-0``."""
    size = Fraction(step)
    rounded = round(Fraction(value) / size) * size
    decimals = len(step.partition(".")[2])
    text = f"{float(rounded) + 0.0:.{decimals}f}"
    return text[:-1] if decimals > 1 and step.endswith("5") and text.endswith("0") else text


def rounded_up(value: float, step: str) -> str:
    """Return a value rounded up to a step, and at least one step."""
    size = Fraction(step)
    count = max(1, math.ceil(Fraction(value) / size - Fraction(1, 10**9)))
    return stepped(float(count * size), step)


def with_doubt(value: float, sd: float, step: str) -> tuple[str, str]:
    """Return a value and its give-or-take as text, to ``step`` or coarser.

    The interval shown holds the whole 95 % interval, the rounding of the value included.
    The step grows until the half-width is at most ten steps.
    """
    half, coarse = Z95 * sd, step
    while half > 10 * float(Fraction(coarse)):
        coarse = _coarser(coarse)
    shown = stepped(value, coarse)
    return shown, rounded_up(half + abs(value - float(shown)), coarse)


def _coarser(step: str) -> str:
    """Return the next coarser step of the series 1, 2, 5 (decimals kept where they can be)."""
    digits = step.replace(".", "").lstrip("0")
    factor = Fraction(5, 2) if digits.startswith("2") else Fraction(2)
    return f"{float(Fraction(step) * factor):.10f}".rstrip("0").rstrip(".")


def length_text(value: float, sd: float, unit: str) -> tuple[str, str]:
    """Return a length and its give-or-take in ``in``, ``mm``, ``ft`` or ``m``, without unit."""
    return with_doubt(value, sd, STEPS[unit])


def slope_text(ratio: float, sd: float, unit: str) -> tuple[str, str]:
    """Return a dimensionless slope and its give-or-take in a slope unit, without the unit."""
    scale = factor("ratio", unit)
    return with_doubt(ratio * scale, sd * scale, SLOPE_STEPS[unit])


def one_in(ratio: float, rounding: Callable[[float], float] = round) -> str | None:
    """Return N of "1 in N" to two significant figures; ``None`` for no slope at all."""
    if ratio <= 0 or 1 / ratio >= 1e5:
        return None
    number = 1 / ratio
    size = 10 ** max(0, math.floor(math.log10(number)) - 1)
    return f"{rounding(number / size) * size:.0f}"


def one_in_interval(ratio: float, sd: float) -> tuple[str | None, str | None, str | None]:
    """Return N of "1 in N" for a slope and for the steep and gentle end of its interval.

    The ends are rounded outward.
    """
    steep = one_in(ratio + Z95 * sd, lambda n: math.floor(n + 1e-9))
    return one_in(ratio), steep, one_in(ratio - Z95 * sd, lambda n: math.ceil(n - 1e-9))


def slope_unit(level: str) -> str:
    """Return the slope wording of the trade for a level unit."""
    return "in per 20 ft" if level == "in" else "mm per m"


def toward(direction: float, north: float | None) -> str:
    """Return the eighth of the circle that a direction on the sheet points to.

    Parameters
    ----------
    direction : degrees clockwise from up the sheet.
    north : where north lies, degrees clockwise from up the sheet, or ``None``.

    Returns
    -------
    str
        ``compass.sw`` and so on with north known, ``sheet.sw`` without (s is down the sheet).
    """
    turned = direction - (north or 0.0)
    eighth = round((turned % 360.0) / 45.0) % 8
    return SHEET[eighth] if north is None else COMPASS[eighth]


def direction_known(slope: float, sd: float) -> bool:
    """Tell whether the 95 % interval of a downhill direction is within 45° to either side."""
    return slope > 0 and Z95 * sd <= slope


def finding_text(finding: Finding) -> tuple[str, str]:
    """Return a finding's value with give-or-take and its limit, as text with units.

    Ratios are told as "1 in N" with the range of N that the 95 % interval allows. A value
    that was not measured is a dash.
    """
    if finding.unit == "ratio":
        return _ratio_text(finding), f"1 in {1 / finding.limit:.0f}"
    limit = f"{finding.limit:g} {finding.unit}"
    if finding.at_least:
        limit = f"{'≥' if finding.limit else '>'} {limit}"
    if finding.value is None:
        return "–", limit
    if finding.sd is None:
        return f"{finding.value:.1f} {finding.unit}", limit
    step = finest_step(finding)
    value, half = with_doubt(finding.value, finding.sd, step)
    return f"{value} ± {half} {finding.unit}", limit


def finest_step(finding: Finding) -> str:
    """Return the finest step in which a finding is told, in its unit."""
    if finding.quantity == "crack width":
        return "0.005" if finding.unit == "in" else "0.1"
    return STEPS.get(finding.unit) or SLOPE_STEPS[finding.unit]


def _ratio_text(finding: Finding) -> str:
    if finding.value is None:
        return "–"
    middle, steep, gentle = one_in_interval(finding.value, finding.sd or 0.0)
    if middle is None:
        return "0"
    if gentle is None:
        return f"1 in {middle} (1 in {steep} or flatter)"
    return f"1 in {middle} (1 in {steep} to 1 in {gentle})"
