"""Days and months as people write them in a search: 2026-11, 11/25/2026, Nov 2026, 25 Nov 2026.

Of 11/5/2026 the first number is the month, as is usual where feet and inches are; where that
cannot be, it is the day. A year by itself stays a word, as it may be the number of a house.
"""

import re
from datetime import date

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_YEAR = r"(?:19|20)[0-9]{2}"
_ONE, _TWO = r"(?P<one>[0-9]{1,2})", r"(?P<two>[0-9]{1,2})"
_DAY = r"(?P<day>[0-9]{1,2})(?:st|nd|rd|th)?"
_NAME = "|".join(f"{name[:3]}(?:{name[3:]})?" for name in MONTHS)
_NAMED = rf"(?P<name>sept|{_NAME})\.?"
_FORMS = (
    rf"(?P<year>{_YEAR})(?P<by>[-/.]){_ONE}(?:(?P=by)(?P<day>[0-9]{{1,2}}))?",
    rf"{_ONE}(?P<by>[-/.]){_TWO}(?P=by)(?P<year>{_YEAR})",
    rf"{_ONE}/{_TWO}/(?P<year>[0-9]{{2}})",
    rf"{_ONE}[/.](?P<year>{_YEAR})",
    rf"{_DAY}\.?\s+{_NAMED},?\s*(?P<year>{_YEAR})",
    rf"{_NAMED}(?:\s*{_DAY}(?=[\s,]))?,?\s*(?P<year>{_YEAR})",
    rf"(?P<year>{_YEAR})\s+{_NAMED}(?:\s+{_DAY})?",
)
_WRITTEN = tuple(re.compile(rf"(?<![\w./-]){form}(?![\w/-])", re.IGNORECASE) for form in _FORMS)


def read_days(text: str) -> tuple[str, tuple[str, ...]]:
    """Return a search without the days in it, and those as 2026-11-25, or 2026-11 for a month.

    What looks like a day and is none, such as 13/45/2026, stays in the text.
    """
    found: list[str] = []

    def take(match: re.Match[str]) -> str:
        told = _told(match.groupdict())
        if told is None:
            return match[0]
        found.append(told)
        return " "

    for form in _WRITTEN:
        text = form.sub(take, text)
    return text, tuple(dict.fromkeys(found))


def _told(parts: dict[str, str | None]) -> str | None:
    """Return a day or month in the order in which it sorts, ``None`` if there is none such."""
    year = int(f"20{parts['year']}"[-4:])
    month, day = parts.get("one"), parts.get("day")
    if name := parts.get("name"):
        month = str(next(n for n, m in enumerate(MONTHS, 1) if m.startswith(name.lower()[:3])))
    if two := parts.get("two"):
        month, day = (two, month) if int(month or 0) > len(MONTHS) else (month, two)
    try:
        told = date(year, int(month or 0), int(day or 1)).isoformat()
    except ValueError:
        return None
    return told if day else told[:7]
