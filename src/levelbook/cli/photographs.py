"""Photographs that come along in a package, written beside the book that is imported."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from levelbook.cli import outputs

if TYPE_CHECKING:
    from levelbook.exchange.questions import ImportPlan

_KINDS = {
    b"\xff\xd8\xff": (".jpg", ".jpeg"),
    b"\x89PNG": (".png",),
    b"RIFF": (".webp",),
}
"""How pictures begin, and the endings that the names of such may have."""


def bring(plan: "ImportPlan", data: bytes, folder: Path) -> "tuple[ImportPlan, list[Path]]":
    """Write the photographs of a plan's book that lie in its file into a folder.

    Each has the hash that the book names. No file is replaced: one that is there stays.

    Returns
    -------
    plan, written
        The plan with what is told of photographs put right, and the files that were written.

    Raises
    ------
    UsageError
        If one cannot be written.
    """
    from levelbook.exchange.photographs import photographs
    from levelbook.exchange.questions import Left

    book = plan.book
    if book is None or not book.photos:
        return plan, []
    here = dict(photographs(data, book))
    written: list[Path] = []
    left = [each for each in plan.left if each.place != "photos"]
    for name, digest in dict.fromkeys((p.name, p.sha256.lower()) for p in book.photos):
        target, content = folder / name, here.get(digest)
        why = _why_not(target, name, content)
        if why:
            left.append(Left("photographs", name, why))
        elif content is not None and not target.exists():
            written.append(outputs.add(target, content))
    taken = (*plan.taken, f"Photographs written beside the book: {len(written)}.")
    return replace(plan, left=tuple(left), taken=taken), written


def _why_not(target: Path, name: str, content: bytes | None) -> str:
    """Return why a photograph cannot lie beside the book under its name, empty if it can."""
    if content is None:
        return "it is not in the file: put it beside the book"
    if target.name != name or name.startswith("."):
        return "its name is none that a file beside the book may have: take it out by hand"
    endings = next((e for start, e in _KINDS.items() if content.startswith(start)), ())
    if not name.lower().endswith(endings):
        return "it is no picture of the kind that its name tells: take it out by hand"
    if target.exists() and not (target.is_file() and outputs.holds(target, content)):
        return "another file of this name is there: move that one, and import again"
    return ""
