"""A suspicious reading in one plain sentence."""

import math
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from levelbook.book.model import Instrument, Reading
from levelbook.floor.model import Suspect, SuspectKind
from levelbook.floor.slips import Slip, Verdict, decimals

BOUND = 1.96
"""Standard deviations to either side of a 95 % interval."""

LARGEST_ODDS = 1e12
"""Odds are cut off here: beyond, the model is less sure than its figure."""


def explain(
    reading: Reading,
    instrument: Instrument,
    expected: tuple[float, float],
    verdict: Verdict,
    contradicted: bool,
    names: Mapping[str, str],
) -> Suspect:
    """Return what is told of a reading that does not fit.

    Parameters
    ----------
    reading, instrument
        As written, and what it was read with.
    expected
        What the others expect it to show, and the sd of a sound reading about that.
    verdict
        The odds and the likeliest slip.
    contradicted
        Whether the readings it is tied to contradict it, floor apart.
    names
        Names of the finishes by id.
    """
    slip = verdict.slip
    kind: SuspectKind = slip.kind
    if kind == "neighbours" and contradicted:
        kind = "residual"
    who = "The readings it is tied to suggest" if contradicted else "Its neighbours suggest"
    told = _told(expected, instrument.resolution, "/" in reading.value)
    return Suspect(
        reading=reading.id,
        station=reading.station,
        value=reading.value,
        expected=expected[0],
        expected_sd=expected[1],
        kind=kind,
        suggestion=slip.suggestion,
        odds=min(math.exp(min(verdict.log_odds, 700.0)), LARGEST_ODDS),
        why=f"{who} {told}; {_reason(reading, slip, names)}.",
    )


def _reason(reading: Reading, slip: Slip, names: Mapping[str, str]) -> str:
    value, meant = reading.value, slip.suggestion
    if slip.kind == "decimal":
        how = "misplaced" if "." in value else "forgotten"
        return f"{value} may be {meant} with the point {how}"
    if slip.kind == "sign":
        return f"{value} may be {meant} with the wrong sign"
    if slip.kind == "digits":
        return f"{value} may be {meant} with two digits swapped"
    if slip.kind == "finish" and slip.finish is not None:
        other, own = names[slip.finish], names[reading.finish]
        return f"{value} would fit if it was taken on {other} and not on {own}"
    return f"no simple slip of the pen explains {value}"


def _told(expected: tuple[float, float], resolution: float, fraction: bool) -> str:
    """Return a value with half of its 95 % interval, rounded up, in steps of the instrument.

    Where it has none, in steps that leave the interval two figures.
    """
    value, half = expected[0], BOUND * expected[1]
    if resolution <= 0:
        resolution, fraction = 10.0 ** (math.floor(math.log10(half)) - 1), False
    half = math.ceil(half / resolution - 1e-9) * resolution
    return f"{as_shown(value, resolution, fraction)} ± {as_shown(half, resolution, fraction)}"


def as_shown(value: float, resolution: float, fraction: bool = False) -> str:
    """Return a value rounded to steps of a resolution, without a sign on zero.

    As a mixed number where readings are written so.
    """
    steps = round(value / resolution)
    if not fraction:
        return f"{steps * resolution + 0.0:.{decimals(resolution)}f}"
    whole, part = divmod(abs(steps) * Fraction(Decimal(str(resolution))), 1)
    parts = [str(whole)] * bool(whole or not part) + [str(part)] * bool(part)
    return "-" * (steps < 0) + " ".join(parts)
