"""How wide a text will be, from the advance widths of the typeface itself.

Fira Sans carries its widths in the tables ``cmap`` (character to glyph) and ``hmtx`` (glyph to
advance), laid out in the OpenType specification (ISO/IEC 14496-22). Kerning is left out: it
is small and mostly tightens. Characters that the typeface lacks are taken wide on purpose,
because another typeface will stand in for them.
"""

import struct
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

FAMILY = "Fira Sans"
_FILES = {400: "Regular", 500: "Medium", 600: "SemiBold"}
_CAP_TOP, _ASCENT, _DESCENT = 0.72, 0.80, 0.24
_FLAT = frozenset("0123456789−+±.…– ")


@dataclass(frozen=True, slots=True)
class Face:
    """One weight of the typeface: advance width by character, in em."""

    advance: Mapping[str, float]


def _tables(data: bytes) -> dict[bytes, int]:
    """Return the offset of every table of a TrueType file by its tag."""
    (count,) = struct.unpack_from(">H", data, 4)
    return {
        data[at : at + 4]: struct.unpack_from(">I", data, at + 8)[0]
        for at in range(12, 12 + 16 * count, 16)
    }


def _glyphs(data: bytes, cmap: int) -> dict[int, int]:
    """Return the glyph of every character of the Basic Multilingual Plane (format 4)."""
    (count,) = struct.unpack_from(">H", data, cmap + 2)
    records = (struct.unpack_from(">HHI", data, cmap + 4 + 8 * i) for i in range(count))
    table = next(cmap + offset for platform, kind, offset in records if (platform, kind) == (3, 1))
    (double,) = struct.unpack_from(">H", data, table + 6)
    n = double // 2
    ends = struct.unpack_from(f">{n}H", data, table + 14)
    starts = struct.unpack_from(f">{n}H", data, table + 16 + double)
    deltas = struct.unpack_from(f">{n}h", data, table + 16 + 2 * double)
    ranges = table + 16 + 3 * double
    offsets = struct.unpack_from(f">{n}H", data, ranges)
    found: dict[int, int] = {}
    for i, (start, end) in enumerate(zip(starts, ends, strict=True)):
        for code in range(start, min(end, 0xFFFE) + 1):
            glyph = code
            if offsets[i]:
                place = ranges + 2 * i + offsets[i] + 2 * (code - start)
                (glyph,) = struct.unpack_from(">H", data, place)
            if glyph:
                found[code] = (glyph + deltas[i]) & 0xFFFF
    return found


@lru_cache(maxsize=len(_FILES))
def face(weight: int = 400) -> Face:
    """Return the widths of one weight (400, 500 or 600), read once from the typeface."""
    name = f"FiraSans-{_FILES[weight]}.ttf"
    data = (files("fontpkg_fira_sans") / "files" / name).read_bytes()
    at = _tables(data)
    (em,) = struct.unpack_from(">H", data, at[b"head"] + 18)
    (full,) = struct.unpack_from(">H", data, at[b"hhea"] + 34)
    advances = struct.unpack_from(">" + "Hh" * full, data, at[b"hmtx"])[::2]
    glyphs = _glyphs(data, at[b"cmap"])
    return Face({chr(c): advances[min(g, full - 1)] / em for c, g in glyphs.items() if g})


def _stand_in(char: str) -> float:
    """Return a wide guess, in em, for a character that another typeface will draw."""
    wide = unicodedata.east_asian_width(char) in "WF" or unicodedata.category(char) == "So"
    return 1.4 if wide else 0.85


@lru_cache(maxsize=8192)
def em_width(text: str, weight: int = 400) -> float:
    """Return the width of one line of text in em."""
    advance = face(weight).advance
    return sum(advance[c] if c in advance else _stand_in(c) for c in text)


def width(text: str, size: float, weight: int = 400) -> float:
    """Return the width of one line of text in millimetres at ``size`` millimetres."""
    return em_width(text, weight) * size


def missing(text: str) -> frozenset[str]:
    """Return the characters that the typeface cannot draw."""
    advance = face(400).advance
    return frozenset(c for c in text if c not in advance)


@lru_cache(maxsize=8192)
def extent(text: str) -> tuple[float, float]:
    """Return how far a line reaches above and below its baseline, in em."""
    if _FLAT.issuperset(text):
        return _CAP_TOP, 0.02
    return _ASCENT, _DESCENT


@lru_cache(maxsize=8192)
def clean(text: str) -> str:
    """Return text on one line without characters that XML forbids."""
    kept = (" " if unicodedata.category(c) in {"Cc", "Cs", "Zl", "Zp"} else c for c in text)
    return " ".join("".join(kept).replace("\ufffe", " ").replace("\uffff", " ").split())


def shorten(text: str, size: float, limit: float, weight: int = 400) -> str:
    """Return the text, cut with an ellipsis where it is wider than ``limit`` millimetres."""
    if width(text, size, weight) <= limit:
        return text
    for end in range(len(text) - 1, 0, -1):
        cut = text[:end].rstrip() + "…"
        if width(cut, size, weight) <= limit:
            return cut
    return "…"


def wrap(text: str, size: float, limit: float, weight: int = 400) -> tuple[str, ...]:
    """Break a text into lines no wider than ``limit`` millimetres, at spaces.

    No-break spaces hold what belongs together.
    """
    lines: list[str] = []
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width(joined, size, weight) <= limit:
            lines[-1] = joined
        else:
            lines.append(shorten(word, size, limit, weight))
    return tuple(lines)
