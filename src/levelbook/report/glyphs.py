"""What stands in for characters that the report's typeface cannot show.

PDF/A and PDF/UA ask that every character has a glyph. Whatever the typeface lacks (emoji,
other scripts, control characters) is replaced by a visible sign and counted; the record
attached to the report keeps the text as it was written.
"""

import re
import unicodedata
from functools import cache
from pathlib import Path

import fontpkg_fira_sans

from levelbook.drawing.metrics import face

MISSING = "▯"
BREAK = "\u200b"
LONGEST_RUN = 18
PIECE = 6
_SPACES = "\t\n\r\x0b\x0c\x85\u2028\u2029"
_HIDDEN = frozenset("\u200b\u200c\u200d\u2060\ufeff\u00ad")
_UNUSUAL = re.compile(r"[^ -~]")


def font_folder() -> Path:
    """Return the folder of the typeface's files."""
    return Path(fontpkg_fira_sans.__file__).parent / "files"


@cache
def supported() -> frozenset[str]:
    """Return the characters that the report's typeface can show."""
    return frozenset(face(400).advance)


def _replacement(char: str) -> str:
    """Return the character itself, or what is printed in its place."""
    if char in _SPACES:
        return " "
    if char in _HIDDEN:
        return ""
    kind = unicodedata.category(char)
    if kind == "Zs":
        return char if char in supported() else " "
    shown = kind not in ("Cc", "Cf", "Cs", "Co", "Cn") and char in supported()
    return char if shown else MISSING


def screen(text: str) -> tuple[str, int]:
    """Return ``text`` as the typeface can show it, and how many characters it cannot.

    Composed first (NFC), so that an accent typed apart finds its glyph.
    """
    if not _UNUSUAL.search(text):
        return text, 0
    composed = unicodedata.normalize("NFC", text)
    shown = _UNUSUAL.sub(lambda found: _replacement(found[0]), composed)
    return shown, shown.count(MISSING) - composed.count(MISSING)


def breakable(text: str) -> str:
    """Return ``text`` with places to break a line inside long runs without a space."""
    if len(text) <= LONGEST_RUN:
        return text
    words = text.split(" ")
    if max(map(len, words)) <= LONGEST_RUN:
        return text
    return " ".join(
        w
        if len(w) <= LONGEST_RUN
        else BREAK.join(w[i : i + PIECE] for i in range(0, len(w), PIECE))
        for w in words
    )
