"""Readings as they are written: decimals, fractions and mixed numbers; and things counted."""

import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

_WRITTEN = re.compile(
    r"""(?P<sign>[+\-−]?)\s*(?:
        (?P<decimal>[0-9]{1,15}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})
      | (?:(?P<whole>[0-9]{1,9})\s+)?(?P<num>[0-9]{1,6})/(?P<den>[0-9]{1,6})
    )""",
    re.VERBOSE,
)


def _proper(match: re.Match[str]) -> bool:
    """Tell whether a fraction has a bottom, and is below one where a whole number precedes."""
    if match["den"] is None:
        return True
    top, bottom = int(match["num"]), int(match["den"])
    return bottom > 0 and (match["whole"] is None or top < bottom)


@lru_cache(maxsize=4096)
def parse_value(text: str) -> Fraction:
    """Return the exact value of a written reading such as ``"-0.60"`` or ``"-1 3/8"``.

    Raises
    ------
    ValueError
        If the text is not a decimal, a fraction or a mixed number.
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None or not _proper(match):
        raise ValueError(f"{text[:40]!r} is not a number as readings are written")
    if match["decimal"] is not None:
        size = Fraction(match["decimal"])
    else:
        size = int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"]))
    return -size if match["sign"] in ("-", "−") else size


def shortest(number: float) -> str:
    """Return a finite number as its shortest decimal string: 5 → "5", 1e-3 → "0.001"."""
    if isinstance(number, float) and number.is_integer():
        number = int(number)
    return format(Decimal(repr(number)), "f")


def counted(number: int, one: str, many: str = "") -> str:
    """Return a number of things with their word: "1 visit", "2 visits", "1,200 entries"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
