"""What makes a table say another number than it seems to: found here, asked or refused there.

Titles that name a step or a factor, columns of back- and foresights, titles that come again
further down, rows that sum others up, signs for "as above".
"""

import re
from collections.abc import Sequence
from typing import Literal

from levelbook.exchange.cells import tidy
from levelbook.exchange.headings import bare
from levelbook.exchange.questions import Interview, refused

_STEP = re.compile(
    r"\d ?/ ?\d|[.,]\d|[x×*·] ?\d|\d ?[x×*·]|10 ?\^|\be-?\d|\b1 ?:"
    r"|\d ?(?:in|inch|inches|ft|foot|feet|mm|cm|m|th|ths)\b|[½¼¾⅛⅜⅝⅞]"
    r"|\b(?:halves|thirds|quarters|eighths|tenths|sixteenths|thirty-seconds|hundredths|thousandths"
    r"|counts?|squares?|paces?|zehntel|hundertstel|achtel|décimas?)\b"
)
_BOOKING = frozenset({"bs", "backsight", "back sight", "rückblick", "turning point"})
_SUMS = frozenset(
    {"mean", "average", "avg", "total", "sum", "max", "maximum", "min", "minimum", "range"}
    | {"median", "mittel", "mittelwert", "summe", "gesamt", "spannweite", "media", "promedio"}
    | {"suma", "difference", "diff", "std", "sd", "high", "low", "highest", "lowest"}
)
_DITTO = frozenset(
    {'"', '""', "''", "〃", "„", "”", '-"-', '- " -', "ditto", "dito", "do", "do.", "idem", "id."}
    | {"same", "as above", "wie oben", "↓"}
)


def names_step(title: str) -> bool:
    """Tell whether a title names a step or a factor, as in ``Reading (1/8 in)`` or ``mm x 10``."""
    return _STEP.search(tidy(title).casefold()) is not None


def ask_step(title: str, key: str, place: str, talk: Interview) -> None:
    """Ask what numbers under a title with a step are; counts of it are refused.

    Raises
    ------
    DocumentError
        If they are counts.
    """
    options = {
        "lengths": "lengths in the unit itself, read to that step",
        "counts": "counts or multiples of that step",
    }
    asks = f"The title {title[:40]!r} names a step or a factor. What are the numbers below it?"
    if talk.choose(key, asks, options) == "counts":
        problem = f"holds counts under the title {title[:40]!r}"
        remedy = "multiply them by their step first, and name the unit alone in the title"
        raise refused("table", place, problem, remedy)


def check_booking(titles: Sequence[str], place: str) -> None:
    """Refuse a booking sheet: what its foresights mean changes from turn to turn.

    Raises
    ------
    DocumentError
        If there is a column of backsights.
    """
    if any(bare(title) in _BOOKING for title in titles):
        problem = "has back- and foresights, which belong to setups that it does not name"
        remedy = "give one column of readings, and a column that names the setup of each"
        raise refused("table", place, problem, remedy)


def sums_up(name: str) -> bool:
    """Tell whether a row is named as one that sums others up."""
    return len(name) < 24 and name.strip(" :.").casefold() in _SUMS


def is_ditto(cell: str) -> bool:
    """Tell whether a cell says that the one above it holds here too."""
    return " ".join(cell.casefold().split()) in _DITTO


def titles_again(row: Sequence[str], titles: Sequence[str]) -> Literal["same", "other"] | None:
    """Tell whether a row holds titles once more: the same ones, or others."""
    if sum(cell[:1].isalpha() for cell in row) < 2:
        return None
    words = [(bare(cell), bare(title)) for cell, title in zip(row, titles, strict=True) if title]
    alike = sum(cell == title != "" for cell, title in words)
    if alike < 2 or alike < len(words) / 2:
        return None
    exact = all(
        tidy(cell).casefold() == tidy(title).casefold()
        for cell, title in zip(row, titles, strict=True)
    )
    return "same" if exact else "other"
