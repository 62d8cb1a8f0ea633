"""A grid of numbers as typed from a sketch on squared paper: the cells are the places.

The first row is the top of the sheet. Each filled cell is a station in the middle of its
square; an empty one is none. Where the first row and column count up and their corner is
empty, they may be the places themselves, which is asked.
"""

from dataclasses import dataclass, replace
from functools import partial

from levelbook.exchange.cells import (
    Point,
    Typed,
    Unclear,
    Unit,
    improper,
    point_of,
    read_cell,
    two_ways,
)
from levelbook.exchange.corrections import tell_struck, written_in
from levelbook.exchange.entries import Entry, Place, Survey
from levelbook.exchange.headings import find_heading, numeric
from levelbook.exchange.outlines import Floor
from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.survey_table import UNITS
from levelbook.exchange.tables import Table, letter


def may_be_sketch(table: Table) -> bool:
    """Tell whether a table could be a grid: no titles, three rows and columns of numbers."""
    rows = [row for row in table.rows if any(cell.strip() for cell in row)]
    if len(rows) < 3 or table.width < 3 or any(find_heading(table).titles):
        return False
    cells = [cell for row in rows[:100] for cell in row if cell.strip()]
    return sum(map(numeric, cells)) >= 0.8 * len(cells)


Rows = list[tuple[int, tuple[str, ...]]]
"""Rows of cells, each with its number in the file."""


@dataclass(frozen=True)
class _Grid:
    """The rows of a sketch, and the column of the file that they begin in."""

    table: Table
    first: int
    rows: Rows

    def spot(self, number: int, j: int) -> tuple[int, int]:
        """Return the place of a cell in the table, by the number of its row and its column."""
        return number - self.table.numbers[0], self.first + j

    def stored(self, number: int, j: int) -> bool:
        """Tell whether a cell holds a number itself."""
        return self.spot(number, j) in self.table.stored


@dataclass(frozen=True)
class _Axis:
    """Middles of the squares along one side, in the order of the cells, and its two ends."""

    at: tuple[float, ...]
    low: float
    high: float


def read_sketch(table: Table, talk: Interview) -> tuple[Survey, Floor | None]:
    """Return the places and readings of a grid, and its edge as the floor.

    The edge is ``None`` where the places were given by the first row and column.
    """
    first, rows = _trimmed(table)
    plan = _unit(talk, "unit.plan", "In which unit are the squares of the sketch?", ("ft", "m"))
    along = _axes(rows, talk) if _has_axes(rows) else None
    if along is None:
        size = _square(talk)
        across, rising = _even(len(rows[0][1]), size), _even(len(rows), size)
        up, body = replace(rising, at=rising.at[::-1]), rows
    else:
        across, up = along
        _check_axes(table, first, rows)
        body = [(number, row[1:]) for number, row in rows[1:]]
        first += 1
    survey = _stations(_Grid(table, first, body), (across, up), talk)
    level = _level(survey, talk)
    edge = [(across.low, up.low), (across.high, up.low), (across.high, up.high),
            (across.low, up.high)]  # fmt: skip
    floor = None if along else Floor("floor", edge)
    if floor:
        talk.assumed.append("The outline is the edge of the sketch.")
    return Survey(survey.places, survey.entries, level, plan), floor


def _square(talk: Interview) -> float:
    """Return how wide a square is; asked only when it is clear that squares are the places."""
    if "edges" in talk.open:
        return 1.0
    answer = talk.write("square", "How wide is one square of the sketch?", _is_length, "2")
    return float(answer) if answer else 1.0


def _trimmed(table: Table) -> tuple[int, Rows]:
    """Return the first column that holds anything, and the rows from there to the last."""
    filled = [i for i, row in enumerate(table.rows) if any(c.strip() for c in row)]
    columns = [j for j in range(table.width) if any(row[j].strip() for row in table.rows)]
    first, last = min(columns), max(columns)
    span = range(filled[0], filled[-1] + 1)
    return first, [(table.numbers[i], table.rows[i][first : last + 1]) for i in span]


def _has_axes(rows: Rows) -> bool:
    """Tell whether the first row and column may be places: the corner empty, both in order."""
    if rows[0][1][0].strip():
        return False
    return all(
        values is not None and len(values) > 1 and values in (sorted(values), sorted(values)[::-1])
        for values in (_values(rows[0][1][1:]), _values([row[0] for _, row in rows[1:]]))
    )


def _values(cells: list[str] | tuple[str, ...]) -> list[float] | None:
    found = [read_cell(cell) for cell in cells]
    values = [float(cell.value) for cell in found if isinstance(cell, Typed)]
    return values if len(values) == len(found) == len(set(values)) else None


def _axes(rows: Rows, talk: Interview) -> tuple[_Axis, _Axis] | None:
    options = {
        "places": "the places themselves, across in the first row and up in the first column",
        "readings": "readings like the others",
    }
    answer = talk.choose("edges", "What stands in the first row and column?", options, "places")
    if answer != "places":
        return None
    across, up = _values(rows[0][1][1:]), _values([row[0] for _, row in rows[1:]])
    assert across is not None
    assert up is not None
    return _Axis(tuple(across), min(across), max(across)), _Axis(tuple(up), min(up), max(up))


def _check_axes(table: Table, first: int, rows: Rows) -> None:
    """Refuse places along the edges that are struck through: what they are places of is open."""
    top = rows[0][0] - table.numbers[0]
    edges = {(top, first + j) for j in range(len(rows[0][1]))}
    edges |= {(number - table.numbers[0], first) for number, _ in rows}
    for spot in sorted(edges & (table.struck.whole | table.struck.part.keys())):
        problem, remedy = "a place is struck through", "write the place that holds, alone"
        raise refused("table", table.cell(*spot), problem, remedy)


def _even(count: int, size: float) -> _Axis:
    return _Axis(tuple((i + 0.5) * size for i in range(count)), 0.0, count * size)


def _stations(grid: _Grid, axes: tuple[_Axis, _Axis], talk: Interview) -> Survey:
    """Return a station and a reading for each filled cell."""
    across, up = axes
    typed = [c for n, row in grid.rows for j, c in enumerate(row) if not grid.stored(n, j)]
    point = _point(typed, grid.table.separator, talk)
    places: list[Place] = []
    entries: list[Entry] = []
    struck: list[tuple[str, tuple[Entry, ...]]] = []
    for i, (number, row) in enumerate(grid.rows):
        for j, cell in enumerate(row):
            if not cell.strip():
                continue
            where = f"{grid.table.name}, cell {letter(grid.first + j)}{number}"
            comma = point == "comma" and not grid.stored(number, j)
            read = partial(_number, point="comma" if comma else "point")
            found = written_in(grid.table, grid.spot(number, j), read)
            if isinstance(found, Unclear):
                talk.leave(where, cell.strip(), found.why)
                continue
            name = f"{letter(j)}{i + 1}"
            places.append(Place(name, (across.at[j], up.at[i])))
            made = found.entries(Entry(where, name, found.stands, cell))
            entries += made
            if made[0].struck:
                struck.append((where, made))
    tell_struck(struck, talk)
    return Survey(tuple(places), tuple(entries), None, None)


def _number(cell: str, point: Point) -> Typed | Unclear:
    if improper(cell):
        return Unclear(f"{cell.strip()[:40]!r} is a fraction above one: is it 1 1/2?")
    return read_cell(cell, point)


def _point(cells: list[str], separator: str, talk: Interview) -> str | None:
    seen = point_of(cells)
    unclear = two_ways(cells, seen, separator)
    if not unclear:
        return "comma" if seen == {"comma"} else "point"
    options = {
        "point": "a point stands before decimals, a comma groups thousands",
        "comma": "a comma stands before decimals, a point groups thousands",
    }
    return talk.choose("decimal", f"Is {unclear[0]} above a thousand, or decimals?", options)


def _level(survey: Survey, talk: Interview) -> Unit | None:
    if all(entry.typed.unit for entry in survey.entries):
        return None
    return _unit(talk, "unit.level", "In which unit are the readings?", tuple(UNITS))


def _unit(talk: Interview, key: str, asks: str, units: tuple[str, ...]) -> Unit | None:
    answer = talk.choose(key, asks, {unit: UNITS[unit] for unit in units})
    return None if answer is None else next(u for u in ("in", "ft", "mm", "cm", "m") if u == answer)


def _is_length(text: str) -> bool:
    try:
        return 0 < float(text) < 1000
    except ValueError:
        return False
