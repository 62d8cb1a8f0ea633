"""Readings as they are written: decimals, fractions and mixed numbers."""

import re
from fractions import Fraction

_WRITTEN = re.compile(
    r"""(?P<sign>[+-−]?)\s*(?:
        (?P<decimal>\d{1,9}(?:\.\d{0,9})?|\.\d{1,9})
      | (?:(?P<whole>\d{1,9})\s+)?(?P<num>\d{1,6})/(?P<den>\d{1,6})
    )""".replace("+-−", "+\\-−"),
    re.VERBOSE,
)


def parse_value(text: str) -> Fraction:
    """Return the exact value of a written reading such as ``"-0.60"`` or ``"-1 3/8"``.

    Raises
    ------
    ValueError
        If the text is not a decimal, a fraction or a mixed number.
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None or (match["den"] is not None and int(match["den"]) == 0):
        raise ValueError(f"{text[:40]!r} is not a number as readings are written")
    if match["decimal"] is not None:
        size = Fraction(match["decimal"])
    else:
        size = int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"]))
    return -size if match["sign"] in ("-", "−") else size
