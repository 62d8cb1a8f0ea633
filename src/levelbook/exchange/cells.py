"""Numbers as people type them into tables, read exactly or not at all.

A cell gives a number with its sign, its unit if one stands there, and what is written beside
it. What could be read in two ways (``1,234``; ``(0.5)``) says so and waits for an answer; what
is no single number is none. The number comes back as a reading is written in the record: a
plain decimal or fraction stays letter for letter as it was typed.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from levelbook.book.numbers import parse_value

Unit = Literal["in", "ft", "mm", "cm", "m"]
Point = Literal["point", "comma"]
METRES: dict[Unit, Fraction] = {
    "in": Fraction(254, 10_000),
    "ft": Fraction(3048, 10_000),
    "mm": Fraction(1, 1000),
    "cm": Fraction(1, 100),
    "m": Fraction(1),
}
"""Exact by definition of the inch."""

LARGEST = 10**12
"""Powers of ten beyond it are no lengths."""
_MINUS = dict.fromkeys(map(ord, "‐‑‒–—―﹣－⁻"), "−")
_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u200a\u202f\t"), " ")
_QUOTES = dict.fromkeys(map(ord, "″”“„ʺ＂"), '"') | dict.fromkeys(map(ord, "′’‘ʹ＇`´"), "'")
_NOTHING = dict.fromkeys(map(ord, "\u200b\u200e\u200f\u2060\ufeff"))
_FRACTIONS = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅓": "1/3", "⅔": "2/3", "⁄": "/", "∕": "/",
}  # fmt: skip
_FRACTION = re.compile(f"([0-9]?)([{''.join(_FRACTIONS)}])")
_ALL = {**dict.fromkeys(_NOTHING), **_MINUS, **_SPACES, **_QUOTES}
_ASCII = {ord("\t"): " ", ord("`"): "'"}
_WORDS: dict[str, Unit] = {
    '"': "in", "''": "in", "in": "in", "in.": "in", "inch": "in", "inches": "in",
    "'": "ft", "ft": "ft", "ft.": "ft", "foot": "ft", "feet": "ft",
    "mm": "mm", "millimetres": "mm", "millimeters": "mm",
    "cm": "cm", "centimetres": "cm", "centimeters": "cm",
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
}  # fmt: skip

_PLAIN = r"(?:[0-9]+(?:[.,][0-9]*)*|[.,][0-9]+)"
_MIXED = r"(?:(?:[0-9]+)[ -]+)?[0-9]+/[0-9]+"
_NUMBER = re.compile(rf"(?P<sign>[-+−]?) ?(?P<size>{_MIXED}|{_PLAIN})(?P<rest>.*)", re.DOTALL)
_FEET = re.compile(
    rf"(?P<sign>[-+−]?) ?(?P<feet>[0-9]{{1,9}}) ?(?:'|ft\.?|feet|foot) ?-? ?"
    rf"(?P<inches>{_MIXED}|[0-9]+(?:\.[0-9]+)?) ?(?:\"|''|in\.?|inch|inches)?(?P<rest>[^0-9]*)",
    re.IGNORECASE,
)
_UNIT = re.compile(r" ?(''|[\"']|[a-zA-Z]+\.?)(?![\w])(.*)", re.DOTALL)
_ROUND = re.compile(r"\( ?(?=[^()]*[0-9])([^()]*)\)")
_USUAL = re.compile(r"-?[0-9]{1,9}(?:\.[0-9]{1,9})?")
_POWER = re.compile(r"[-+]?[0-9]{1,20}(?:\.[0-9]{1,20})?[eE][-+]?[0-9]{1,3}")
_LOOKALIKE = re.compile(r"[OoQDSsIlBZzgq|][^\w]*\Z|[OoSsIl|][.,0-9]|[eE](?![^\W\d_])")
_FOREIGN = re.compile(
    r"(?:[µμu]m|dm|km|yd|yds|yards?|mil|mils|thou|deg|degrees?|grad|gon|kg|lbs?|psi|k?pa|bar|ths?"
    r"|tenths?|hundredths?|eighths?|sixteenths?|psf)(?![a-z])(?!\.?\w)",
    re.IGNORECASE,
)
"""Units that are no length here, and steps: a number before one is not in the unit expected."""
_BEFORE = "([*?!#:;,&~"
"""Signs that a remark beside a number may begin with; another may be part of the number."""
_SUM = re.compile(r"[-+−%/^=<>×·](?! *[^\W\d])")
_TWO_WAYS = re.compile(r"[1-9][0-9]{0,2}[.,][0-9]{3}")


@dataclass(frozen=True, slots=True)
class Typed:
    """One number as typed: exact value, its unit if told, and the words beside it.

    ``text`` is the cell as it stands where the record can keep it so, else the same number
    in decimals or as a fraction.
    """

    text: str
    value: Fraction
    unit: Unit | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Unclear:
    """A cell that is no number, or could be two: ``why`` in words, ``asks`` names a question."""

    why: str
    asks: Literal["decimal", "round"] | None = None


def read_cell(cell: str, point: Point | None = None, round_: str | None = None) -> Typed | Unclear:
    """Return the number in a cell.

    Parameters
    ----------
    point : ``"point"`` or ``"comma"``, optional
        Which sign stands before decimals; needed only where a cell can be read in two ways.
    round_ : ``"minus"`` or ``"leave"``, optional
        What round brackets about a number mean.
    """
    simple = _simple(cell, point)
    if simple is not None:
        return simple
    text = tidy(cell)
    bracket = _ROUND.fullmatch(text)
    if bracket:
        if round_ is None:
            return Unclear("a number in brackets: negative, or set aside?", "round")
        if round_ == "leave":
            return Unclear("it stands in brackets, which were said to set it aside")
        text = f"-{bracket[1].strip()}"
    if feet := _FEET.fullmatch(text):
        return _in_feet(feet)
    match = _NUMBER.fullmatch(text)
    return _number(cell, match, point) if match else _none(cell)


def _none(cell: str) -> Unclear:
    return Unclear(f"{cell.strip()[:40]!r} is not a number")


def _simple(cell: str, point: Point | None) -> Typed | None:
    """Return what most cells are, quickly: a plain decimal, or a computer's power of ten."""
    if point != "comma" and _USUAL.fullmatch(cell):
        return Typed(cell, Fraction(cell))
    if _POWER.fullmatch(cell):
        value = Fraction(cell)
        return Typed(written(value), value) if abs(value) < LARGEST else None
    return None


def tidy(cell: str) -> str:
    """Return a cell with one kind of minus, space and quote, and fractions written out."""
    plain = cell.isascii()
    text = cell.translate(_ASCII) if plain else _FRACTION.sub(_spelt, cell.translate(_ALL))
    return " ".join(text.split())


def _spelt(match: re.Match[str]) -> str:
    """Return a sign for a fraction in figures, set apart from a number before it."""
    said = _FRACTIONS[match[2]]
    return f"{match[1]} {said}" if match[1] and len(said) > 1 else match[1] + said


def point_of(cells: list[str]) -> set[Point]:
    """Return which signs stand before decimals in cells that can be read in one way alone."""
    if not any("," in cell for cell in cells):
        pointed = _sizes([cell for cell in cells if "." in cell])
        return {"point"} if any(not _TWO_WAYS.fullmatch(size) for size in pointed) else set()
    return {sign for size in _sizes(cells) if (sign := _certain(size))}


def two_ways(cells: list[str], seen: set[Point], separator: str = ",") -> list[str]:
    """Return the cells that stay unclear, given which signs the others ``seen`` have.

    Nothing is where a number such as ``1,234.5`` shows both signs and no other number says
    otherwise. Else ``1,234`` is unclear unless commas alone are seen before decimals, and
    ``1.234`` if a comma is seen, or nothing is in a table set apart as where commas are used.
    """
    pointed = "comma" in seen or (not seen and separator in (";", "\t"))
    if not pointed:
        cells = [cell for cell in cells if "," in cell]
    sizes = list(_sizes(cells))
    both = {_last_sign(size) for size in sizes if "." in size and "," in size}
    if seen and seen == both:
        return []
    found = [size for size in sizes if _TWO_WAYS.fullmatch(size)]
    return [s for s in found if (seen != {"comma"} if "," in s else pointed)]


def _sizes(cells: list[str]) -> Iterator[str]:
    for cell in cells:
        match = re.match(_PLAIN, tidy(cell).lstrip("+-−( "))
        if match:
            yield match[0]


def _certain(size: str) -> Point | None:
    return None if _TWO_WAYS.fullmatch(size) else _last_sign(size)


def _last_sign(size: str) -> Point | None:
    """Return what the last of a number's signs is, where that is certain."""
    points, commas = size.count("."), size.count(",")
    if points + commas == 1:
        return "point" if points else "comma"
    if points and commas:
        return "point" if size.rfind(".") > size.rfind(",") else "comma"
    if points + commas > 1:  # 1.234.567 or 1,234,567: that sign groups thousands
        return "comma" if points else "point"
    return None


def unit_of(word: str) -> Unit | None:
    """Return the unit that a word or sign names."""
    return _WORDS.get(word.casefold())


def convert(value: Fraction, unit: Unit, to: Unit) -> Fraction:
    """Return a length in another unit, exactly."""
    return value if unit == to else value * METRES[unit] / METRES[to]


def written(value: Fraction) -> str:
    """Return an exact number as a reading is written: a decimal where one is short enough."""
    sign, size = ("-" if value < 0 else ""), abs(value)
    for digits in range(13):
        scaled = size * 10**digits
        if scaled.denominator == 1:
            whole = f"{scaled.numerator:0{digits + 1}d}"
            return sign + (f"{whole[:-digits]}.{whole[-digits:]}" if digits else whole)
    whole_part, part = divmod(size.numerator, size.denominator)
    lead = f"{whole_part} " if whole_part else ""
    if max(part, size.denominator) >= 10**6:
        return f"{sign}{float(size):.12f}"
    return f"{sign}{lead}{part}/{size.denominator}"


def _in_feet(match: re.Match[str]) -> Typed | Unclear:
    """Return feet and inches as inches, with the step that the inches were typed in."""
    inches = _spaced(match["inches"])
    try:
        part = parse_value(inches)
    except ValueError:
        return Unclear(f"{match[0][:40]!r} is not feet and inches")
    if part >= 12:
        return Unclear(f"{match[0][:40]!r} has more than 12 inches beside feet")
    size = 12 * int(match["feet"]) + part
    if "/" in inches:
        whole, fraction = divmod(size, 1)
        below = inches.rpartition("/")[2]
        text = f"{whole} {int(fraction * int(below))}/{below}"
    else:
        text = f"{float(size):.{len(inches.partition('.')[2])}f}"
    sign = "-" if match["sign"] in ("-", "−") else ""
    note = match["rest"].strip() or None
    return Typed(sign + text, -size if sign else size, "in", note)


def _spaced(mixed: str) -> str:
    """Return a mixed number with a space between its parts (``1-3/8`` is 1 3/8)."""
    return " ".join(mixed.replace("-", " ").split())


def _number(cell: str, match: re.Match[str], point: Point | None) -> Typed | Unclear:
    size = _size(match["size"], point)
    if isinstance(size, Unclear):
        return size
    if _LOOKALIKE.match(match["rest"]):
        return Unclear(f"{cell.strip()[:40]!r} ends in a letter that may be a digit")
    unit, note = _beside(match["rest"])
    if note is not None and (odd := _odd(note)):
        return Unclear(f"{cell.strip()[:40]!r} {odd}")
    try:
        value = parse_value(f"{match['sign']}{size}")
    except ValueError:
        return _none(cell)
    return Typed(_as_typed(cell, match["sign"], size, match["rest"], value), value, unit, note)


def _size(size: str, point: Point | None) -> str | Unclear:
    """Return a number without its sign as the record writes it."""
    if "/" in size:
        return _spaced(size)
    if _TWO_WAYS.fullmatch(size) and ("," in size or point == "comma"):
        if point is None:
            return Unclear(f"{size!r} can be read in two ways", "decimal")
    elif (sign := _last_sign(size)) is not None:
        point = sign
    groups, decimal = (",", ".") if point != "comma" else (".", ",")
    whole, _, part = size.partition(decimal)
    if groups in part or (groups in whole and not _in_threes(whole.split(groups))):
        return Unclear(f"{size!r} is not a number")
    return whole.replace(groups, "") + (f".{part}" if part else "")


def _in_threes(parts: list[str]) -> bool:
    """Tell whether digits stand in groups of thousands."""
    return 1 <= len(parts[0]) <= 3 and all(len(part) == 3 for part in parts[1:])


def _beside(rest: str) -> tuple[Unit | None, str | None]:
    """Return the unit after a number, and the words after that."""
    match = _UNIT.fullmatch(rest)
    unit = unit_of(match[1]) if match else None
    if match and unit:
        rest = match[2]
    return unit, rest.strip(" ,;:") or None


def _odd(note: str) -> str | None:
    """Return what is odd about words beside a number: a sum, another unit, another number."""
    if _SUM.match(note):
        return "is more than a number and a remark"
    if _more_numbers(note):
        return "holds more than one number"
    word = re.match(r"[^\W\d_]+\.?", note)
    if word and len(word[0]) > 1 and _FOREIGN.fullmatch(word[0].rstrip(".")):
        return f"is in {word[0]!r}, which is no unit of lengths here"
    first = note.lstrip("-−/= ")[:1]
    if first.isalpha() or note[:1] in _BEFORE:
        return None
    return "has a sign beside the number that may belong to it"


def improper(cell: str) -> bool:
    """Tell whether a cell is a fraction above one, as ``1 1/2`` becomes where its space is lost."""
    match = re.fullmatch(r"[-+−]? ?([0-9]{1,9})/([0-9]{1,9})[^0-9/]*", tidy(cell))
    return match is not None and int(match[1]) > int(match[2])


def _more_numbers(note: str) -> bool:
    """Tell whether words beside a number hold another one (but for one in brackets)."""
    return bool(re.search(r"[0-9]", re.sub(r"\([^()]*\)", "", note)))


def _as_typed(cell: str, sign: str, size: str, rest: str, value: Fraction) -> str:
    """Return the cell's own letters where they are such a number, else sign and size."""
    if len(cell) <= 64 and not rest and cell.isprintable():
        try:
            if parse_value(cell) == value:
                return cell
        except ValueError:
            pass
    return f"{'-' if sign in ('-', '−') else ''}{size}"
