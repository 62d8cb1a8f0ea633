"""What cannot be told, changes to the wording, photographs, and the record itself."""

from collections.abc import Mapping
from hashlib import sha256

from levelbook.book.model import Photo
from levelbook.report.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Gallery,
    Heading,
    Prose,
    Row,
    Section,
    Shot,
    Table,
)
from levelbook.report.figures import NONE, grouped
from levelbook.report.firm import LOGO
from levelbook.report.sections.source import Source

PHOTO_KINDS = {b"\xff\xd8\xff": "jpg", b"\x89PNG\r\n\x1a\n": "png"}
SHEET = "sheet"
"""What ``of`` says of the picture that the plan was traced from, and its key in ``extra``."""


def limits_section(source: Source) -> Section:
    """Return what the readings cannot tell, and the cautions."""
    label, words = source.labels, source.assessment.words
    blocks: list[Block] = [Prose(words.limits, "list")]
    cautions = tuple(dict.fromkeys((*words.cautions, *source.assessment.screening.cautions)))
    if cautions:
        blocks += [Heading(label("limits.cautions")), Prose(cautions, "list")]
    return Section("limits", label("limits.title"), tuple(blocks))


def issue_section(source: Source) -> Section | None:
    """Return what is to be known of this issue of the report, ``None`` where it is nothing."""
    issue = source.issue
    if issue is None or not issue.notes:
        return None
    title = source.labels("issue.title", issue=issue.name)
    return Section("issue", title, (Prose(issue.notes, "list"),))


def changes_section(source: Source) -> Section | None:
    """Return the sentences that the inspector replaced, with the reasons; the originals stay."""
    label = source.labels
    changes = list(source.assessment.words.overrides)
    overruled = source.assessment.screening.overruled
    if overruled is not None and overruled not in changes:
        changes.insert(0, overruled)
    if not changes:
        return None
    columns = tuple(
        Column(label(f"changes.{name}"), width=share)
        for name, share in (("original", 2.0), ("text", 2.0), ("reason", 1.6), ("by", 1.0))
    )
    rows = tuple(Row((c.original, c.text, c.reason, c.by or NONE)) for c in changes)
    table = Table(label("changes.caption"), columns, rows)
    return Section("changes", label("changes.title"), (table,))


def photo_kind(content: bytes) -> str | None:
    """Return the file ending of a photograph by its first bytes, ``None`` if not one we show."""
    return next((kind for start, kind in PHOTO_KINDS.items() if content.startswith(start)), None)


def photo_file(digest: str, kind: str) -> str:
    """Return the name of a photograph's file inside the report."""
    return f"photo-{digest}.{kind}"


def photos_section(source: Source) -> Section | None:
    """Return the photographs of the book; one that is missing or altered is said to be.

    The firm's logo stands on the first page and not here; the sheet that the plan was traced
    from is no photograph of the house, and stands in the record alone.
    """
    shown = [photo for photo in source.book.photos if photo.of != LOGO and not is_sheet(photo)]
    if not shown:
        return None
    gallery = Gallery(tuple(_shot(source, photo) for photo in shown))
    return Section("photos", source.labels("photos.title"), (gallery,))


def is_sheet(photo: Photo) -> bool:
    """Tell whether a picture is the one that the plan was traced from: ``extra`` says how it lay.

    A photograph of a station that happens to be called ``sheet`` is none.
    """
    return photo.of == SHEET and isinstance((photo.extra or {}).get(SHEET), Mapping)


def _shot(source: Source, photo: Photo) -> Shot:
    label = source.labels
    digest = photo.sha256.lower()
    content = source.photos.get(digest)
    caption = label("photos.caption", id=photo.id, name=photo.name)
    if photo.of:
        caption = label("photos.of", caption=caption, of=photo.of)
    if content is None:
        return Shot("", label("photos.missing", sha256=digest[:12]), caption)
    if sha256(content).hexdigest() != digest:
        return Shot("", label("photos.altered", sha256=digest[:12]), caption)
    kind = photo_kind(content)
    if kind is None:
        return Shot("", label("photos.unreadable"), caption)
    file = photo_file(digest, kind)
    if file in source.damaged:
        return Shot("", label("photos.damaged"), caption)
    return Shot(file, caption, caption)


def record_section(source: Source) -> Section:
    """Return the house, the visit, and how to read the record back."""
    label, book = source.labels, source.book
    house, visit = book.property, book.visit
    yes_no = {True: label("record.yes"), False: label("record.no"), None: None}
    told = (
        ("label", house.label),
        ("address", house.address),
        ("foundation", label.of("foundation", house.foundation) if house.foundation else None),
        ("post_tensioned", yes_no[house.post_tensioned]),
        ("year_built", None if house.year_built is None else str(house.year_built)),
        ("house_notes", house.notes),
        ("date", visit.date),
        ("purpose", label.of("purpose", visit.purpose) if visit.purpose else None),
        ("surveyor", visit.surveyor),
        ("licence", visit.licence),
        ("firm", visit.firm),
        ("weather", visit.weather),
        ("visit_notes", visit.notes),
        (
            "counts",
            label("record.counted", stations=len(book.stations), readings=len(book.readings)),
        ),
    )
    facts = tuple(Fact(label(f"record.{key}"), text) for key, text in told if text)
    digest = Fact(label("record.fingerprint"), source.assessment.digest, label("record.digest_how"))
    inside = label("record.files" if source.seal is None else "record.files_sealed")
    kept = Facts(
        label("record.kept"),
        (digest, *_sealed(source), Fact(label("record.inside"), inside)),
        plain=True,
    )
    return Section("record", label("record.title"), (Facts("", facts, plain=True), kept))


def _sealed(source: Source) -> tuple[Fact, ...]:
    """Return when and with which key the record was sealed, and what that proves."""
    label, seal = source.labels, source.seal
    if seal is None:
        return ()
    time = seal["time"].replace("T", " ").replace("Z", " UTC")
    told = label("record.sealed_at", time=time, public=grouped(seal["key"]))
    return (Fact(label("record.sealed"), told, label("record.sealed_how")),)
