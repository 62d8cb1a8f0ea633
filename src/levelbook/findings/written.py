"""Widths as they are written: their value and the uncertainty that the writing alone gives."""

import math
import re
from dataclasses import dataclass

from levelbook.book.model import Distress
from levelbook.book.numbers import parse_value

COARSEST_FRACTION = 16
"""A rule that is read in fractions is divided at least this finely (our own rule)."""


@dataclass(frozen=True, slots=True)
class Width:
    """Width of a crack in level units; ``sd`` is that of its last digit alone."""

    value: float
    sd: float


def width_of(distress: Distress) -> Width | None:
    """Return the width written down for a sign, ``None`` where there is none.

    How a width was measured is not in the book, so its uncertainty is taken as that of
    rounding to the last digit written: step/√12, JCGM 100:2008 (GUM) 4.3.7. The step of
    a fraction is one over its denominator, and 1/16 at most: 1/4 on a rule is 4/16 (our rule).
    """
    if distress.width is None:
        return None
    return Width(abs(float(parse_value(distress.width))), _step(distress.width) / math.sqrt(12))


def _step(text: str) -> float:
    fraction = re.search(r"/(\d+)", text)
    if fraction:
        return 1 / max(int(fraction[1]), COARSEST_FRACTION)
    _, _, decimals = text.strip().partition(".")
    return float(10.0 ** -len(decimals))
