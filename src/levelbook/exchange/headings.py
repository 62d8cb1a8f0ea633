"""Which row is the heading of a table, and what each column is taken for.

A column is known by its title: first as a whole, then by a word in it. Where two titles could
mean the same thing, or none means one that is needed, the import asks.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from levelbook.exchange.cells import Typed, Unclear, Unit, read_cell, tidy, unit_of
from levelbook.exchange.tables import Table
from levelbook.report.tables import READINGS, STATIONS

Sense = Literal["more", "less"]
TITLES: Mapping[str, frozenset[str]] = {
    role: frozenset(words.split("|"))
    for role, words in {
        "station": "station|stn|sta|point|pt|point id|point no|no|nr|number|n|#|name|location|loc"
        "|spot|punkt|messpunkt|punto|estación|estacion",
        "x": "x|easting|east|e|x coord|x coordinate|across|rechts|este",
        "y": "y|northing|north|y coord|y coordinate|up|hoch|norte",
        "value": "reading|readings|rdg|value|as written|measured|measurement|level|levels|elevation"
        "|elev|height|rod|staff|foresight|fs|z|h|rod reading|staff reading|ablesung|messwert"
        "|höhe|hoehe|lectura|nivel|cota",
        "finish": "finish|floor finish|surface|covering|floor covering|flooring|material|belag"
        "|bodenbelag|acabado|underfoot",
        "setup": "setup|set up|set-up|instrument setup|zeroing|aufstellung",
        "time": "time|time read|read at|clock|uhrzeit|zeit|hora",
        "note": "note|notes|remark|remarks|comment|comments|bemerkung|bemerkungen|nota|notas",
        "struck": "struck|struck out|crossed out|void",
        "instead": "instead|replaced by",
        "area": "area|floor area",
        "moved": "moved",
        "id": "id|reading id|reading no",
    }.items()
}
WORDS: Mapping[str, frozenset[str]] = {
    "station": frozenset({"station", "point", "punkt", "punto"}),
    "x": frozenset({"x", "easting"}),
    "y": frozenset({"y", "northing"}),
    "value": frozenset(
        {"reading", "readings", "level", "elevation", "elev", "height", "rod", "staff", "höhe"}
    ),
    "finish": frozenset({"finish", "covering", "flooring", "belag"}),
    "note": frozenset({"note", "notes", "remark", "remarks", "comment", "comments"}),
}
_LESS = frozenset({"rod", "staff", "foresight", "fs"})
_MORE = frozenset({"elevation", "elev", "z", "höhe", "hoehe", "cota"})
OWN = {
    **dict.fromkeys((*READINGS, *STATIONS), "computed"),
    **{"setup": "setup", "station": "station", "finish": "finish", "as_written": "value"},
    **{"time": "time", "struck": "struck", "instead": "instead", "signed": "signed"},
    **{"note": "note", "area": "area", "x": "x", "y": "y", "moved": "moved", "reading": "id"},
    **{"plan_unit": "plan_unit", "level_unit": "level_unit"},
}
"""What the columns of this program's own tables are."""
_UNIT = re.compile(
    r"[(\[] *([^()\[\]]{1,12}?) *[)\]]|(?:,| in| /) *([a-z\"']+\.?)$|\b(in|ft|mm|cm|m)$"
)
_LOOK = 40


@dataclass(frozen=True)
class Heading:
    """A table's columns: titles, units told in them, and the index of the first row of data."""

    titles: tuple[str, ...]
    units: tuple[Unit | None, ...]
    first: int
    own: bool = False

    def roles(self) -> dict[str, list[int]]:
        """Return for each role the columns that may have it, the surest kind of match alone."""
        found: dict[str, list[int]] = {}
        if self.own:
            for column, title in enumerate(self.titles):
                found.setdefault(OWN.get(title, "computed"), []).append(column)
            return found
        plain = [bare(title) for title in self.titles]
        for role, phrases in TITLES.items():
            whole = [i for i, title in enumerate(plain) if title in phrases]
            words = WORDS.get(role, frozenset())
            part = [i for i, title in enumerate(plain) if words & set(re.split(r"[\W\d_]+", title))]
            if whole or part:
                found[role] = whole or part
        return _settled(found, plain)

    def sense(self, column: int) -> Sense | None:
        """Return what a title says about the sense of its readings, if anything."""
        words = set(re.split(r"[\W\d_]+", bare(self.titles[column])))
        if bool(words & _LESS) == bool(words & _MORE):
            return None
        return "less" if words & _LESS else "more"


def _settled(found: dict[str, list[int]], plain: list[str]) -> dict[str, list[int]]:
    """Settle what two roles claim: the more telling title has it."""
    east = [i for i, title in enumerate(plain) if title == "e"]
    north = [i for i, title in enumerate(plain) if title == "n"]
    if len(east) == len(north) == 1 and "y" not in found:
        found["y"] = north
        found["station"] = [i for i in found.get("station", []) if i not in north]
    elif east and "x" in found and found["x"] == east and "y" not in found:
        del found["x"]
    telling = [i for i in found.get("station", []) if plain[i] in ("station", "stn", "point", "pt")]
    if len(telling) == 1:
        found["station"] = telling
    written = [i for i in found.get("value", []) if plain[i] == "as written"]
    if len(written) == 1:
        found["value"] = written
    if "station" not in found and len(found.get("id", [])) == 1:
        found["station"] = found.pop("id")
    return {role: columns for role, columns in found.items() if columns}


def bare(title: str) -> str:
    """Return a title in small letters without its unit and its punctuation."""
    text = _UNIT.sub("", tidy(title).casefold().strip())
    return " ".join(re.sub(r"[:;.,_*]+", " ", text).split())


def title_unit(title: str) -> Unit | None:
    """Return the unit that a title tells, as in ``Reading (in)`` or ``x, ft``."""
    for match in _UNIT.finditer(tidy(title).casefold().strip()):
        unit = unit_of(next(word for word in match.groups() if word))
        if unit:
            return unit
    return None


def find_heading(table: Table) -> Heading:
    """Return the heading of a table: up to two rows right above the first row of data."""
    own = _own(table)
    if own is not None:
        return own
    first = first_data(table)
    filled = [i for i in range(first) if any(table.rows[i])][-2:]
    above = [i for i in filled if sum(map(bool, table.rows[i])) >= 2]
    if len(above) == 2 and above[0] != above[1] - 1:
        above = above[1:]
    above = above if not above or above[-1] == filled[-1] else []
    lines = [table.rows[i] for i in above]
    if len(lines) == 2:
        lines[0] = _filled(lines[0])
    titles = tuple(" ".join(" ".join(parts).split()) for parts in zip(*lines, strict=True))
    titles = titles or ("",) * table.width
    return Heading(titles, tuple(map(title_unit, titles)), first)


def _own(table: Table) -> Heading | None:
    """Return the heading where the table is one that this program wrote."""
    titles = table.rows[0] if table.rows else ()
    if titles[:5] != READINGS[:5] and titles[:5] != STATIONS[:5]:
        return None
    return Heading(titles, (None,) * len(titles), 1, own=True)


def first_data(table: Table) -> int:
    """Return the index of the first row that holds numbers as a row of data does.

    A single number is enough below the title of the readings, beside the name of a station.
    """
    needed, above = 2 if table.width > 2 else 1, table.rows[0] if table.rows else ()
    for i, row in enumerate(table.rows[:_LOOK]):
        if sum(map(numeric, row)) >= needed or _named_reading(above, row):
            return i
        above = row
    return 0


def _named_reading(above: tuple[str, ...], row: tuple[str, ...]) -> bool:
    """Tell whether a row has a station's name and a number, each right below its title."""
    found = Heading(above, (None,) * len(above), 0).roles()
    stations, values = found.get("station", []), found.get("value", [])
    return any(row[i] for i in stations) and any(numeric(row[i]) for i in values)


def numeric(cell: str) -> bool:
    """Tell whether a cell holds a number, be it an unclear one."""
    if not any(c.isdigit() or c in "½¼¾⅛⅜⅝⅞" for c in cell):
        return False
    found = read_cell(cell)
    return isinstance(found, Typed) or (isinstance(found, Unclear) and found.asks is not None)


def _filled(row: tuple[str, ...]) -> tuple[str, ...]:
    """Return a row of merged titles, each over all the columns that it spans."""
    filled, last = [], ""
    for cell in row:
        last = cell or last
        filled.append(last)
    return tuple(filled)
