"""What is struck through in an ODS file (OpenDocument 1.3, part 3: 9.1, 16 and 20)."""

from collections.abc import Iterator, Mapping
from itertools import product
from xml.etree.ElementTree import Element

from levelbook.exchange.markup import attribute, local, pieces
from levelbook.exchange.struck import NOTHING, Gathered, Run, Struck

_MOST_PARENTS = 50
Styles = Mapping[tuple[str, str], tuple[bool | None, str]]
"""By kind and name: whether a style strikes, does not, or does not say; and its parent."""


class OdsSheets:
    """The sheets of an ODS file; all are gone through once, when the first is asked for."""

    def __init__(self, parts: Mapping[str, bytes]) -> None:
        self._content = parts.get("content.xml", b"<none/>")
        both = (self._content, parts.get("styles.xml", b""))
        some = [content for content in both if b"line-through" in content]
        self._styles: Styles = dict(
            s for content in both if some and content for s in _said(content)
        )
        self._told: dict[str, Struck] | None = None if some else {}

    def on(self, sheet: str) -> Struck:
        """Return what is struck on the sheet of this name."""
        if self._told is None:
            self._told = self._sheets()
        return self._told.get(sheet, NOTHING)

    def by_rule(self) -> bool:
        """Tell whether a rule for the looks of cells may strike some, too."""
        if not self._styles:
            return False
        rules = pieces(self._content, ("condition", "map"))
        named = (attribute(rule, "apply-style-name") or "" for rule, _ in rules)
        return any(self._strikes("table-cell", name) for name in named)

    def _sheets(self) -> dict[str, Struck]:
        found: dict[str, Gathered] = {}
        row = 0
        columns: list[tuple[int, str]] = []
        current: Element | None = None
        for element, around in pieces(self._content, ("table-column", "table-row")):
            table = next((one for one in reversed(around) if local(one.tag) == "table"), None)
            if table is None:
                continue
            if table is not current:
                current, row, columns = table, 0, []
            if local(element.tag) == "table-column":
                columns.append((_times(element, "columns"), _usual(element)))
                continue
            into = found.setdefault(attribute(table, "name") or "", Gathered())
            times = _times(element, "rows")
            self._row(element, range(row, row + times), columns, into)
            row += times
        return {name: gathered.told() for name, gathered in found.items()}

    def _row(
        self, element: Element, rows: range, columns: list[tuple[int, str]], into: Gathered
    ) -> None:
        column = 0
        for cell in element:
            if local(cell.tag) not in ("table-cell", "covered-table-cell"):
                continue
            times = _times(cell, "columns")
            if len(cell) or attribute(cell, "value-type"):
                looks = attribute(cell, "style-name") or _usual(element) or _at(columns, column)
                own = self._strikes("table-cell", looks) or False
                spots = product(rows, range(column, column + times))
                into.add(spots, self._runs(cell, own=own))
            column += times

    def _runs(self, cell: Element, *, own: bool) -> Iterator[Run]:
        """Yield the runs of a cell, its paragraphs one below the other."""
        lines = [child for child in cell if local(child.tag) == "p"]
        if not lines:
            yield "0", own
        for k, line in enumerate(lines):
            struck = self._own(line, "paragraph", usual=own)
            yield "\n" if k else "", struck
            yield from self._inside(line, struck=struck)

    def _inside(self, element: Element, *, struck: bool) -> Iterator[Run]:
        yield element.text or "", struck
        for child in element:
            kind = local(child.tag)
            if kind in ("s", "tab", "line-break"):
                yield "\n" if kind == "line-break" else " ", struck
            elif kind != "annotation":
                yield from self._inside(child, struck=self._own(child, "text", usual=struck))
            yield child.tail or "", struck

    def _own(self, element: Element, kind: str, *, usual: bool) -> bool:
        said = self._strikes(kind, attribute(element, "style-name") or "")
        return usual if said is None else said

    def _strikes(self, kind: str, name: str) -> bool | None:
        """Return what a style says, or the nearest of its parents that says anything."""
        for _ in range(_MOST_PARENTS):
            said, parent = self._styles.get((kind, name), (None, ""))
            if said is not None or not parent:
                return said
            name = parent
        return None


def _said(content: bytes) -> Iterator[tuple[tuple[str, str], tuple[bool | None, str]]]:
    """Yield every style of cells, paragraphs and words, with what it says of a line through."""
    for style, _ in pieces(content, ("style",)):
        struck: bool | None = None
        for looks in style:
            for name in ("text-line-through-style", "text-line-through-type"):
                if local(looks.tag) == "text-properties" and (line := attribute(looks, name)):
                    struck = line != "none"
        kind, name = attribute(style, "family") or "", attribute(style, "name") or ""
        yield (kind, name), (struck, attribute(style, "parent-style-name") or "")


def _times(element: Element, what: str) -> int:
    said = attribute(element, f"number-{what}-repeated") or ""
    return max(1, int(said)) if said.isdecimal() else 1


def _usual(element: Element) -> str:
    return attribute(element, "default-cell-style-name") or ""


def _at(columns: list[tuple[int, str]], column: int) -> str:
    """Return the usual looks of a column's cells."""
    for times, looks in columns:
        if column < times:
            return looks
        column -= times
    return ""
