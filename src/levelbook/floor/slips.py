"""How a reading may have gone wrong: what it should have been, and how likely each way is.

The shares below are how often we suppose a reading to be so written; they are a judgement
and no measurement, and stand here so that they can be disputed. The evidence of a slip of
the pen is usually a factor of thousands, so that the shares matter little.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from levelbook.book.model import Instrument, Reading
from levelbook.book.numbers import parse_value
from levelbook.floor.model import SuspectKind
from levelbook.levels.model import FinishHeight

SHARES: Mapping[SuspectKind, float] = {
    "decimal": 0.004,
    "sign": 0.004,
    "digits": 0.001,
    "finish": 0.003,
    "neighbours": 0.003,
}
"""Share of readings supposed wrong in each way; the rest are sound."""

SOUND = 1.0 - sum(SHARES.values())


@dataclass(frozen=True, slots=True)
class Slip:
    """One way to have gone wrong.

    ``error`` is what it adds to the reading as written, with ``variance``; ``share`` how
    often it is supposed; ``suggestion`` the value meant, as written; ``finish`` the finish
    it was taken on, if forgotten.
    """

    kind: SuspectKind
    error: float
    variance: float
    share: float
    suggestion: str | None = None
    finish: str | None = None


def slips(
    reading: Reading, instrument: Instrument, heights: Mapping[str, FinishHeight], wide: float
) -> Iterator[Slip]:
    """Yield the ways in which a reading may have gone wrong.

    Parameters
    ----------
    reading
        As written.
    instrument
        It tells the sense of a reading and its resolution: what it cannot show was not meant.
    heights
        Of the finishes, level units.
    wide
        Standard deviation of an error without a simple cause, level units.
    """
    value, seen = parse_value(reading.value), {parse_value(reading.value)}
    for kind, intended, text in _meant(reading.value, value, instrument.resolution):
        if intended not in seen and legal(intended, instrument.resolution):
            seen.add(intended)
            yield Slip(kind, float(value - intended), 0.0, SHARES[kind], suggestion=text)
    for name, step, variance, share in _other_finishes(reading.finish, heights):
        error = instrument.sense * step
        yield Slip("finish", error, variance, SHARES["finish"] * share, finish=name)
    yield Slip("neighbours", 0.0, wide**2, SHARES["neighbours"])


def _meant(
    text: str, value: Fraction, resolution: float
) -> Iterator[tuple[SuspectKind, Fraction, str]]:
    """Yield values that a slip of the pen turns into ``text``, and how they are written."""
    if "/" not in text:
        for meant in (value / 10, value * 10):
            yield "decimal", meant, _written(meant, resolution)
    yield "sign", -value, _negated(text)
    if "/" not in text:
        for other in _swapped(text):
            yield "digits", parse_value(other), other


def _other_finishes(
    own: str, heights: Mapping[str, FinishHeight]
) -> Iterator[tuple[str, float, float, float]]:
    """Yield every other finish: its id, height above one's own, variance of that, share."""
    here = heights.get(own)
    if here is None or here.height is None or here.sd is None:
        return
    known = [(i, h.height, h.sd) for i, h in heights.items() if h.group == here.group]
    others = [(i, h, sd) for i, h, sd in known if i != own and h is not None and sd is not None]
    for name, height, sd in others:
        yield name, height - here.height, here.sd**2 + sd**2, 1 / len(others)


def legal(value: Fraction, resolution: float) -> bool:
    """Whether an instrument can show a value: a whole multiple of its resolution."""
    if resolution <= 0:
        return True
    steps = value / Fraction(Decimal(str(resolution)))
    return abs(steps - round(steps)) < Fraction(1, 1000)


def _negated(text: str) -> str:
    text = text.strip()
    return text[1:].strip() if text[0] in "-−" else "-" + text.lstrip("+").strip()


def _written(value: Fraction, resolution: float) -> str:
    """Return a value with as many decimals as the resolution has, or as many as it needs."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return f"{exact:.{max(decimals(resolution), _places(exact))}f}"


def decimals(resolution: float) -> int:
    """Return how many decimals an instrument shows: 1 for 0.1, 0 for 1 or an unknown one."""
    return _places(Decimal(str(resolution))) if resolution > 0 else 0


def _places(value: Decimal) -> int:
    return max(0, -int(value.normalize().as_tuple().exponent))


def _swapped(text: str) -> Iterator[str]:
    """Yield a decimal value with two neighbouring digits the other way round."""
    text = text.strip()
    digits = [i for i, sign in enumerate(text) if sign.isdigit()]
    for i, j in pairwise(digits):
        if text[i] != text[j]:
            yield text[:i] + text[j] + text[i + 1 : j] + text[i] + text[j + 1 :]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The odds of a slip against a sound reading, natural log, and the likeliest slip."""

    log_odds: float
    slip: Slip


def judge(off: float, variance: float, freedom: float, ways: Iterable[Slip]) -> Verdict:
    """Weigh the ways to have gone wrong against a sound reading.

    Parameters
    ----------
    off
        The reading less what the others expect, in the written sense.
    variance
        Of a sound reading about that.
    freedom
        Degrees of freedom of Student's t that errors follow, as the variance itself is
        learnt from few readings.
    ways
        What may have happened; at least one.
    """
    sound = math.log(SOUND) + _log_density(off, variance, freedom)
    weighed = [
        (math.log(w.share) + _log_density(off - w.error, variance + w.variance, freedom), w)
        for w in ways
    ]
    best, slip = max(weighed, key=lambda pair: pair[0])
    total = best + math.log(sum(math.exp(score - best) for score, _ in weighed))
    return Verdict(total - sound, slip)


def _log_density(off: float, variance: float, freedom: float) -> float:
    """Return the log density of Student's t, up to a constant of ``freedom``."""
    tail = math.log1p(off * off / (freedom * variance))
    return -0.5 * (math.log(variance) + (freedom + 1) * tail)
