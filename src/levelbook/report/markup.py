"""Blocks as HTML. Every text is escaped here, once, on its way into the page."""

from collections.abc import Mapping
from html import escape

from levelbook.report.blocks import (
    Block,
    Column,
    Facts,
    Gallery,
    Heading,
    Mark,
    Picture,
    Prose,
    Row,
    Section,
    Table,
)

SHAPES: dict[Mark, str] = {
    "within": '<circle cx="6" cy="6" r="4"/>',
    "beyond": '<path class="full" d="M6 1.5 11 10.5H1z"/>',
    "close": '<path d="M6 1 11 6 6 11 1 6z"/><path class="full" d="M6 1V11L1 6z"/>',
    "unknown": '<path d="M1 6H11"/>',
}


def text(value: str) -> str:
    """Return a text escaped for content and attributes; characters HTML forbids are replaced."""
    kept = "".join(c if c >= " " or c in "\t\n" else "\ufffd" for c in value)
    return escape(kept, quote=True)


def mark(state: Mark) -> str:
    """Return the small shape of a state; the word beside it says the same."""
    if not state:
        return ""
    return f'<svg class="state-shape" viewBox="0 0 12 12" aria-hidden="true">{SHAPES[state]}</svg>'


def block(item: Block, pictures: Mapping[str, str]) -> str:
    """Return one block; ``pictures`` are SVG elements or image addresses by name."""
    match item:
        case Heading():
            return f"<h3>{text(item.text)}</h3>"
        case Prose():
            return _prose(item)
        case Facts():
            return _facts(item)
        case Table():
            return _table(item)
        case Picture():
            return picture(item, pictures[item.name])
        case Gallery():
            return _gallery(item, pictures)


def section(item: Section, pictures: Mapping[str, str]) -> str:
    """Return a section with its heading, as a landmark of its own."""
    inner = "\n".join(block(b, pictures) for b in item.blocks)
    title = f'<h2 id="{item.id}-title">{text(item.title)}</h2>'
    return f'<section id="{item.id}" aria-labelledby="{item.id}-title">{title}\n{inner}</section>'


def picture(item: Picture, svg: str) -> str:
    """Return a drawing with its caption; the drawing itself carries its words for the blind."""
    told = f"<figcaption>{text(item.caption)}</figcaption>" if item.caption else ""
    return f'<figure class="drawing {item.size}"><div class="paper">{svg}</div>{told}</figure>'


def points(items: tuple[str, ...]) -> str:
    """Return paragraphs where there is one, a list where there are more."""
    if len(items) == 1:
        return f"<p>{text(items[0])}</p>"
    return "<ul>" + "".join(f"<li>{text(i)}</li>" for i in items) + "</ul>"


def _prose(item: Prose) -> str:
    if item.style == "list":
        return "<ul>" + "".join(f"<li>{text(i)}</li>" for i in item.items) + "</ul>"
    cls = ' class="quiet"' if item.style == "quiet" else ""
    return "".join(f"<p{cls}>{text(i)}</p>" for i in item.items)


def _facts(item: Facts) -> str:
    title = f"<h3>{text(item.title)}</h3>" if item.title else ""
    tag = "p" if item.plain else "strong"
    rows = "".join(
        f"<div><dt>{text(f.label)}</dt><dd><{tag}>{text(f.value)}</{tag}>"
        + (f"<span>{text(f.detail)}</span>" if f.detail else "")
        + "</dd></div>"
        for f in item.items
    )
    return f"{title}<dl>{rows}</dl>"


def _table(item: Table) -> str:
    head = "".join(
        f'<th scope="col" role="columnheader"{_aligned(c)}>{text(c.label)}</th>'
        for c in item.columns
    )
    rows = "".join(_row(row, item.columns) for row in item.rows)
    cls = "dense" if item.dense else "cards"
    seen = "" if item.titled else ' class="unseen"'
    caption = text(item.caption)
    return (
        f'<div class="scroll" role="region" tabindex="0" aria-label="{caption}">'
        f'<table class="{cls}" role="table"><caption{seen}>{caption}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{rows}</tbody></table></div>'
    )


def _aligned(column: Column) -> str:
    return ' class="number"' if column.align == "right" else ""


def _row(row: Row, columns: tuple[Column, ...]) -> str:
    first = f'<th scope="row" role="rowheader">{mark(row.mark)}{_cell(row, row.cells[0])}</th>'
    rest = "".join(
        f'<td role="cell" data-label="{text(c.label)}"{_aligned(c)}>{_cell(row, cell)}</td>'
        for c, cell in zip(columns[1:], row.cells[1:], strict=True)
    )
    cls = ' class="struck"' if row.struck else ""
    out = f'<tr role="row"{cls}>{first}{rest}</tr>'
    if row.note:
        out += (
            f'<tr role="row" class="note"><td role="cell" colspan="{len(columns)}">'
            f"{text(row.note)}</td></tr>"
        )
    return out


def _cell(row: Row, cell: str) -> str:
    return f"<s>{text(cell)}</s>" if row.struck else text(cell)


def _gallery(item: Gallery, pictures: Mapping[str, str]) -> str:
    out = []
    for shot in item.items:
        address = pictures.get(shot.file, "")
        if shot.file and address:
            shown = f'<img src="{address}" alt="{text(shot.alt)}" loading="lazy">'
        else:
            shown = f'<p class="absent">{text(shot.alt)}</p>'
        out.append(f"<figure>{shown}<figcaption>{text(shot.caption)}</figcaption></figure>")
    return f'<div class="gallery">{"".join(out)}</div>'
