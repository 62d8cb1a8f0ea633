"""How much room the first page leaves for its plan.

The words are measured with the typeface's own widths, so that the plan can be drawn at the size
at which it will stand and its type is not scaled down. Sizes mirror ``templates/main.typ``.
"""

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

from levelbook.drawing import metrics
from levelbook.findings.model import Words

POINT = 25.4 / 72
GUTTER, INDENT, ALERT = 9.0, 4.5, 3.5
WANTED, LEAST, SLACK = 68.0, 60.0, 4.0
TITLE, SUMMARY, FOOT = 20.0, 10.0, 8.2
BODIES = (9.4, 9.0, 8.6)
"""Type sizes of the first page in points; of the lists, the largest that leaves the plan room."""


class Sheet(NamedTuple):
    """Room between the margins of a page, and what drawings take of it; millimetres."""

    width: float
    height: float
    page: float
    wide: float
    strip: float


SHEETS = {
    "ft": Sheet(177.9, 237.4, 208.0, 118.0, 44.0),
    "m": Sheet(172.0, 255.0, 225.0, 125.0, 44.0),
}
"""Letter for feet and A4 for metres, their margins taken off."""


def _lines(text: str, points: float, width: float, weight: int = 400) -> float:
    """Return the height of a paragraph: 1.35 em a line, 0.35 em between paragraphs.

    Broken lines leave a few hundredths of their width empty at the right.
    """
    size = points * POINT
    lines = ceil(1.04 * metrics.width(text, size, weight) / width)
    return (1.35 * lines + 0.35) * size


def _column(items: Sequence[str], points: float, width: float) -> float:
    return sum(_lines(item, points, width) for item in items)


def shares(words: Words) -> tuple[float, float]:
    """Return the shares of the width that meaning and advice get, by how much each says."""
    said = [sum(map(len, items)) + 1.0 for items in (words.meaning, words.advice)]
    first = min(0.6, max(0.4, said[0] / sum(said)))
    return first, 1.0 - first


def first_page(words: Words, foot: str, sheet: Sheet) -> tuple[float, float]:
    """Return the type size of the lists in points, and the height that the plan can have."""
    fixed = 16.0 + _lines(words.title, TITLE, sheet.width, 500)
    fixed += sum(_lines(s, SUMMARY, sheet.width) for s in words.summary)
    fixed += sum(_lines(s, SUMMARY, sheet.width - ALERT, 500) for s in words.alerts)
    fixed += 16.0 + _lines(foot, FOOT, sheet.width)
    height = 0.0
    for points in BODIES:
        parts = zip((words.meaning, words.advice), shares(words), strict=True)
        columns = [
            _column(items, points, (sheet.width - GUTTER) * share - INDENT)
            for items, share in parts
        ]
        height = sheet.height - fixed - max(columns) - SLACK
        if height >= WANTED:
            return points, height
    return BODIES[-1], max(height, LEAST)
