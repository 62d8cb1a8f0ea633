"""Signs of distress as they were written down, with the published category of each crack."""

from levelbook.book.model import Distress
from levelbook.book.units import convert
from levelbook.findings.catalogue import named_set
from levelbook.findings.written import width_of
from levelbook.report.blocks import Column, Prose, Row, Section, Table
from levelbook.report.figures import NONE
from levelbook.report.sections.source import Source

CATEGORIES = "bre-251"


def distress_section(source: Source) -> Section:
    """Return every sign of distress in the order it was written down."""
    label = source.labels
    title = label("distress.title")
    if not source.book.distress:
        return Section("distress", title, (Prose((label("distress.none"),)),))
    columns = (
        Column(label("distress.number")),
        Column(label("distress.id")),
        Column(label("distress.what"), width=2),
        Column(label("distress.where"), width=1.6),
        Column(label("distress.width", unit=source.book.units.level), "right"),
        Column(label("distress.category"), "right"),
        Column(label("distress.age")),
    )
    rows = tuple(_row(source, n, entry) for n, entry in enumerate(source.book.distress, 1))
    how = Prose((label("distress.how"),), "quiet")
    return Section("distress", title, (Table(label("distress.caption"), columns, rows), how))


def _row(source: Source, n: int, entry: Distress) -> Row:
    label = source.labels
    what = label(
        "distress.sign",
        kind=label.of("sign", entry.kind),
        element=label.of("element", entry.element),
    )
    side = label.of("side", entry.side) if entry.side else ""
    number = category(entry, source.book.units.level)
    cells = (
        str(n),
        entry.id,
        f"{what}, {side}" if side else what,
        _place(source, entry),
        entry.width or NONE,
        NONE if number is None else str(number),
        label.of("age", entry.age or "unknown"),
    )
    photo = label("distress.photo", photo=entry.photo) if entry.photo else ""
    return Row(cells, note=" ".join(filter(None, (entry.note, photo))))


def _place(source: Source, entry: Distress) -> str:
    if entry.at is not None:
        return source.figures.place(entry.at)
    if entry.line:
        return source.line((entry.line[0], entry.line[-1]))
    return source.labels("distress.nowhere")


def category(entry: Distress, level_unit: str) -> int | None:
    """Return the category 0 to 5 of a crack's written width, ``None`` for anything else.

    Source: the steps of BRE Digest 251 (1995), from the criteria that come with the program.
    """
    width = width_of(entry)
    if width is None or entry.kind not in ("crack", "separation"):
        return None
    (steps,) = (c.steps for c in named_set(CATEGORIES).criteria if c.quantity == "crack width")
    size, (hairline, *wider) = convert(width.value, level_unit, "mm"), steps
    # "Under 0.1 mm" leaves 0.1 mm itself out, "to 1 mm" holds 1 mm.
    return int(size >= hairline) + sum(size > step for step in wider)
