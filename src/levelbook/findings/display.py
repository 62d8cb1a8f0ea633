"""Numbers as a reader sees them: sensible decimals, always with their uncertainty.

The give-or-take is half of the 95 % interval, 1.96 sd, to two significant figures at most
(JCGM 100:2008, 7.2.6) and rounded up, so that a figure never looks surer than it is; the
value is rounded to the same step. Sentences, tables and drawings all tell a figure by this
one rule.
"""

import math
from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache

from levelbook.findings.judge import Z95
from levelbook.findings.model import Finding
from levelbook.findings.quantities import factor

STEPS = {"in": "0.01", "mm": "0.1", "ft": "0.1", "m": "0.01"}
"""Finest step shown of a length, by unit, where readings stand behind it."""

SLOPE_STEPS = {
    "ratio": "0.0001",
    "percent": "0.01",
    "mm per m": "0.1",
    "in per ft": "0.001",
    "in per 20 ft": "0.01",
}
"""Finest step shown of a slope, by unit."""

MOST_STEPS = 99
"""A give-or-take has two figures at most, so many steps."""

FLATTEST = 1e-5
"""Slopes below 1 in 100,000 are not told from none."""

COMPASS = tuple(f"compass.{way}" for way in ("n", "ne", "e", "se", "s", "sw", "w", "nw"))
SHEET = tuple(f"sheet.{way}" for way in ("n", "ne", "e", "se", "s", "sw", "w", "nw"))
"""Keys of the words for a direction, clockwise from north or from up the sheet."""


def stepped(value: float, step: str) -> str:
    """Return a value rounded to a step (decimal text), with the step's decimals, no ``-0``."""
    size = Fraction(step)
    rounded = round(Fraction(value) / size) * size
    return f"{float(rounded) + 0.0:.{len(step.partition('.')[2])}f}"


def rounded_up(value: float, step: str) -> str:
    """Return a value rounded up to a step, and at least one step."""
    size = Fraction(step)
    count = max(1, math.ceil(Fraction(value) / size - Fraction(1, 10**9)))
    return stepped(float(count * size), step)


@lru_cache(maxsize=8192)
def with_doubt(value: float, sd: float, step: str) -> tuple[str, str]:
    """Return a value and its give-or-take as text, to ``step`` (a power of ten) or coarser."""
    while True:
        half = rounded_up(Z95 * sd, step)
        if float(half) <= MOST_STEPS * float(step) * (1 + 1e-9):
            return stepped(value, step), half
        step = f"{10 * float(step):.{max(0, len(step.partition('.')[2]) - 1)}f}"


def length_text(value: float, sd: float, unit: str) -> tuple[str, str]:
    """Return a length and its give-or-take in ``in``, ``mm``, ``ft`` or ``m``, without unit."""
    return with_doubt(value, sd, STEPS[unit])


def slope_text(ratio: float, sd: float, unit: str) -> tuple[str, str]:
    """Return a dimensionless slope and its give-or-take in a slope unit, without the unit."""
    scale = factor("ratio", unit)
    return with_doubt(ratio * scale, sd * scale, SLOPE_STEPS[unit])


def one_in(ratio: float, rounding: Callable[[float], float] = round) -> str | None:
    """Return N of "1 in N" to two significant figures; ``None`` where there is no such N."""
    if ratio <= FLATTEST:
        return None
    number = 1 / ratio
    size = 10 ** max(0, math.floor(math.log10(number)) - 1)
    return f"{rounding(number / size) * size:,.0f}"


def one_in_interval(ratio: float, sd: float) -> tuple[str | None, str | None, str | None]:
    """Return N of "1 in N" for a slope and for the steep and gentle end of its interval.

    The ends are rounded outward. Where the interval holds no slope at all, there is no N but
    that of the steep end.
    """
    steep = one_in(ratio + Z95 * sd, lambda n: math.floor(n + 1e-9))
    gentle = one_in(ratio - Z95 * sd, lambda n: math.ceil(n - 1e-9))
    return (None if gentle is None else one_in(ratio)), steep, gentle


def one_in_text(ratio: float, sd: float) -> str:
    """Return a slope as "1 in N" with the N of its interval, or what it is flatter than."""
    middle, steep, gentle = one_in_interval(abs(ratio), sd)
    if middle is None:
        return f"flatter than 1 in {steep or f'{1 / FLATTEST:,.0f}'}"
    return f"1 in {middle} ({steep} to {gentle})"


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
        told = "–" if finding.value is None else one_in_text(finding.value, finding.sd or 0.0)
        return told, f"1 in {1 / finding.limit:,.0f}"
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
        return "0.01" if finding.unit == "in" else "0.1"
    return STEPS.get(finding.unit) or SLOPE_STEPS[finding.unit]
