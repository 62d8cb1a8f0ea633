"""A table of readings, a row each: columns settled, cells read, what is unclear asked."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from levelbook.book.limits import READINGS
from levelbook.exchange.cells import (
    Point,
    Typed,
    Unclear,
    Unit,
    convert,
    improper,
    point_of,
    read_cell,
    tidy,
    two_ways,
    unit_of,
)
from levelbook.exchange.columns import Columns
from levelbook.exchange.corrections import tell_struck, written_in
from levelbook.exchange.entries import Entry, Place, Spot, Survey
from levelbook.exchange.headings import numeric
from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.tables import Table
from levelbook.exchange.traps import ask_step, is_ditto, names_step, sums_up, titles_again

UNITS: Mapping[str, str] = {
    "in": "inches",
    "mm": "millimetres",
    "ft": "feet and decimals of a foot",
    "cm": "centimetres",
    "m": "metres",
}
_CALLED = {"x": "place", "y": "place", "id": "reading's name", "instead": "replaced reading"}
_TRUE = frozenset({"true", "yes", "y", "1", "x", "struck"})
_FALSE = frozenset({"", "false", "no", "n", "0", "-"})


@dataclass(frozen=True)
class _Style:
    point: Point | None
    round_: str | None


class TableReader(Columns):
    """Reads the rows of one table; what it cannot settle, ``talk`` asks."""

    def __init__(
        self, table: Table, talk: Interview, *, placed: bool, second: bool = False
    ) -> None:
        super().__init__(table, talk, placed=placed, second=second)
        self._ask_steps()
        self.above = {role: self._from_above(role) for role in ("finish", "setup")}
        self.style = _Style(self._point(), self._round())
        self.plan = self._plan_unit()
        self.gone: dict[str, Place] = {}
        """Places that are struck through with their readings."""

    def _ask_steps(self) -> None:
        """Ask about titles that name a step or a factor."""
        for role in ("value", "x", "y"):
            title = self.heading.titles[self.roles[role]] if role in self.roles else ""
            if not self.heading.own and names_step(title):
                ask_step(title, self.key(f"step.{role}"), self.table.name, self.talk)

    def _from_above(self, role: str) -> Mapping[int, str]:
        """Return what holds from the row above, where a cell is empty or says so; asks once."""
        if role not in self.roles or self.heading.own:
            return {}
        column, last, found = self.roles[role], "", {}
        titles, every = self.heading.titles, self.table.rows
        filled = [i for i in self.data if any(cell.strip() for cell in every[i])]
        rows = [i for i in filled if titles_again(every[i], titles) is None]
        cells = {i: " ".join(self.table.rows[i][column].split()) for i in rows}
        empty = self._asks_above(role, list(cells.values()))
        for i, cell in cells.items():
            if is_ditto(cell) or (empty and not cell):
                found[i] = last
            last = found.get(i, cell) or last
        return found

    def _asks_above(self, role: str, cells: list[str]) -> bool:
        """Tell whether empty cells mean what stands above; asks where only some are empty."""
        filled = [k for k, cell in enumerate(cells) if cell]
        if not filled or all(cells[filled[0] :]):
            return False
        options = {
            "above": "as in the row above",
            "own": f"one and the same {role} of their own",
        }
        asks = f"Some rows name no {role}. Which is meant there?"
        return self.talk.choose(self.key(f"empty.{role}"), asks, options) == "above"

    def _point(self) -> Point | None:
        """Return which sign stands before decimals where a cell could be read in two ways."""
        cells = self.cells("value", "x", "y")
        seen = point_of(cells)
        unclear = two_ways(cells, seen, self.table.separator)
        if not unclear:
            return "comma" if seen == {"comma"} else "point"
        asks = f"Is {unclear[0]} a number above a thousand, or are these decimals?"
        options = {
            "point": "a point stands before decimals, a comma groups thousands",
            "comma": "a comma stands before decimals, a point groups thousands",
        }
        answer = self.talk.choose(self.key("decimal"), asks, options)
        return "comma" if answer == "comma" else "point" if answer else None

    def _round(self) -> str | None:
        cells = [cell for cell in self.cells("value") if ")" in cell and numeric(cell)]
        if not any(tidy(cell).startswith("(") for cell in cells):
            return None
        options = {"minus": "below zero", "leave": "set aside: leave these rows out"}
        return self.talk.choose("brackets", "What does a reading in brackets mean?", options)

    def _plan_unit(self) -> Unit | None:
        """Return the unit of places: from the titles, the cells, or asked."""
        axes = [self.roles[role] for role in ("x", "y") if role in self.roles]
        if not axes:
            return None
        told = {self.heading.units[i] for i in axes} - {None}
        if self.heading.own and "plan_unit" in self.roles:
            told = {unit_of(cell) for cell in self.cells("plan_unit")} - {None}
        if not told:
            cells = [read_cell(c, self.style.point) for c in self.cells("x", "y") if c.strip()]
            units = [cell.unit for cell in cells if isinstance(cell, Typed)]
            told = set(units[:1]) if all(units) else set()
        if len(told) == 1:
            return told.pop()
        return self._ask_unit("unit.plan", "In which unit are the places?", ("ft", "m", "in", "cm"))

    def level_unit(self, entries: tuple[Entry, ...]) -> Unit | None:
        """Return the unit of readings that tell none; asks only where there are any."""
        told = self.heading.units[self.roles["value"]] if "value" in self.roles else None
        if told or not any(entry.typed.unit is None for entry in entries):
            return told
        return self._ask_unit("unit.level", "In which unit are the readings?", tuple(UNITS))

    def _ask_unit(self, key: str, asks: str, units: tuple[str, ...]) -> Unit | None:
        answer = self.talk.choose(self.key(key), asks, {unit: UNITS[unit] for unit in units})
        return None if answer is None else unit_of(answer)

    def read(self) -> Survey:
        """Return the places and readings of the table."""
        places: dict[str, Place] = {}
        entries: list[Entry] = []
        struck: list[tuple[str, tuple[Entry, ...]]] = []
        names = _Names()
        for i in self.data:
            if not any(cell.strip() for cell in self.table.rows[i]) or self._trap(i):
                continue
            found = self._row(i, places, names)
            entries += found
            if found and found[0].struck and self.lined(i, "value"):
                struck.append((self.cell_name(i, "value"), found))
            if len(entries) > READINGS:
                problem = f"has more than {READINGS:,} readings, which no book takes"
                remedy = "split it into several visits"
                raise refused("too-many", self.table.name, problem, remedy)
        for name, place in self.gone.items():
            places.setdefault(name, place)
        tell_struck(struck, self.talk)
        kept = tuple(entries)
        sense = self.heading.sense(self.roles["value"]) if "value" in self.roles else None
        if self.heading.own:
            sense = None
        level = self.level_unit(kept)
        return Survey(tuple(places.values()), kept, level, self.plan, sense, self.heading.own)

    def _trap(self, i: int) -> bool:
        """Tell whether a row is none of readings, or has slipped; it is left then, and told.

        Raises
        ------
        DocumentError
            If another table begins there.
        """
        if self.heading.own:
            return False
        row, why = self.table.rows[i], None
        again = titles_again(row, self.heading.titles)
        if again == "other":
            problem = f"has other titles in row {self.table.numbers[i]}: another table begins there"
            raise refused(
                "table", self.table.name, problem, "put each table into a file of its own"
            )
        if again == "same":
            why = "the titles stand there again"
        elif any(numeric(row[column]) for column in self.beyond):
            why = "its numbers go on beyond the titles: a cell may have slipped"
        elif self.table.separator == " " and self._slipped(row):
            why = "it has not as many words as there are titles, and only spaces set them apart"
        elif "station" in self.roles and sums_up(row[self.roles["station"]]):
            why = "it is named as what sums others up"
        if why:
            self.talk.leave(self._where(i), self._line(i), why)
        return why is not None

    def _slipped(self, row: tuple[str, ...]) -> bool:
        titles = sum(map(bool, self.heading.titles)) or self.table.width
        return sum(map(bool, row)) != titles

    def _row(self, i: int, places: dict[str, Place], names: "_Names") -> tuple[Entry, ...]:
        """Take one row: its place, and its reading if it has a good one.

        Where the place is struck through with the reading, it counts only if no other row
        tells where the station is.
        """
        if not self._check_lines(i):
            return ()
        where = self._where(i)
        at = self._at(i, where)
        if isinstance(at, Unclear):
            self.talk.leave(where, self._line(i), at.why)
            return ()
        name = self._text(i, "station") or names.of(at)
        if name is None:
            self.talk.leave(where, self._line(i), "it names no station")
            return ()
        fresh = Place(name, at, *(self._text(i, role) for role in ("area", "note", "moved")))
        if any(self.lined(i, role) for role in ("station", "x", "y", "area")):
            self.gone.setdefault(name, fresh)
        elif not self._agrees(places.setdefault(name, fresh), fresh, where):
            return ()
        return self._entries(i, name, where) if "value" in self.roles else ()

    def _check_lines(self, i: int) -> bool:
        """Tell whether a row can be taken with what is struck through in it; what not is told.

        A row struck through with its reading is a struck reading. Where the reading stands,
        something else struck leaves open what it is a reading of; but a remark is only left.
        """
        for role in self.roles:
            if role == "value" or not self.lined_alone(i, role):
                continue
            if role not in ("note", "moved"):
                why = f"the {_CALLED.get(role, role)} is struck through, and the reading is not"
                self.talk.leave(self.cell_name(i, role), self._line(i), why)
                return False
            told = self.table.rows[i][self.roles[role]]
            self.talk.leave(self.cell_name(i, role), told, "the remark is struck through")
        return True

    def _agrees(self, known: Place, fresh: Place, where: str) -> bool:
        """Tell whether a station stands where it stood before; asks what to do where not."""
        if fresh.at is None or known.at is None or fresh.at == known.at:
            return True
        options = {
            "first": "the station stands where it was named first; take the reading",
            "leave": "another station is meant: leave such rows out",
        }
        asks = f"Station {known.id} stands at two places ({where}). Which holds?"
        answer = self.talk.choose(self.key("places"), asks, options)
        if answer == "first":
            self.talk.leave(where, f"the place of {known.id}", "it stands elsewhere above")
        if answer == "leave":
            self.talk.leave(where, f"station {known.id}", "its name stands at another place above")
        return answer == "first"

    def _entries(self, i: int, station: str, where: str) -> tuple[Entry, ...]:
        """Return the reading of a row; two where one was corrected within its cell."""
        column = self.roles["value"]
        cell = self.table.rows[i][column]
        found = written_in(self.table, (i, column), lambda text: self._number(i, column, text))
        struck = self._struck(i)
        if isinstance(found, Unclear) or struck is None:
            why = found.why if isinstance(found, Unclear) else "what stands in 'struck' is unclear"
            why = why if cell.strip() else "there is no reading"
            place = self.cell_name(i, "value") if self.lined(i, "value") else where
            self.talk.leave(place, self._line(i), why)
            return ()
        signed = self._text(i, "signed")
        row = Entry(
            place=where,
            station=station,
            typed=found.stands,
            cell=cell,
            id=self._text(i, "id"),
            setup=self._text(i, "setup"),
            finish=self._text(i, "finish"),
            time=self._text(i, "time"),
            note=self._text(i, "note"),
            struck=struck,
            instead=self._text(i, "instead"),
            signed=float(signed) if signed and self.heading.own else None,
        )
        return found.entries(row)

    def _number(self, i: int, column: int, cell: str) -> Typed | Unclear:
        """Return the number in (a part of) a cell; a date there was hardly meant to be one."""
        if (i, column) in self.table.dates:
            return Unclear(f"the cell holds a date ({cell}): was a fraction typed?")
        if (i, column) in self.table.stored:
            return read_cell(cell, "point")
        if not self.heading.own and improper(cell):
            return Unclear(f"{cell.strip()[:40]!r} is a fraction above one: has it lost a space?")
        return read_cell(cell, self.style.point, self.style.round_)

    def _at(self, i: int, where: str) -> Spot | Unclear | None:
        """Return the place of a row in feet or metres; ``None`` where the table has none."""
        if "x" not in self.roles or "y" not in self.roles:
            return None
        spot = []
        for role in ("x", "y"):
            column = self.roles[role]
            found = self._number(i, column, self.table.rows[i][column])
            if isinstance(found, Unclear):
                return Unclear(f"its {role} cannot be read: {found.why}")
            if found.note:
                return Unclear(f"its {role} has words beside it: {found.note[:40]!r}")
            spot.append(self._length(found))
        return spot[0], spot[1]

    def _length(self, found: Typed) -> float:
        unit = found.unit or self.plan or "ft"
        return float(convert(found.value, unit, plan_of(self.plan or found.unit)))

    def _struck(self, i: int) -> bool | None:
        said = (self._text(i, "struck") or "").casefold()
        return True if said in _TRUE else False if said in _FALSE else None

    def _text(self, i: int, role: str) -> str | None:
        if role not in self.roles:
            return None
        if i in self.above.get(role, {}):
            return self.above[role][i] or None
        if role in ("note", "moved") and self.lined_alone(i, role):
            return None
        cell = self.table.rows[i][self.roles[role]]
        return (cell if self.heading.own else " ".join(cell.split())) or None

    def _where(self, i: int) -> str:
        return f"{self.table.name}, row {self.table.numbers[i]}"

    def _line(self, i: int) -> str:
        return " | ".join(cell.strip() for cell in self.table.rows[i] if cell.strip())


class _Names:
    """Names for stations that have none: the same place, the same name."""

    def __init__(self) -> None:
        self._known: dict[Spot, str] = {}

    def of(self, at: Spot | None) -> str | None:
        """Return the name of a place."""
        return None if at is None else self._known.setdefault(at, f"p{len(self._known) + 1}")


def plan_of(unit: Unit | None) -> Unit:
    """Return the plan unit of a book whose places were given in ``unit``."""
    return "ft" if unit in ("ft", "in", None) else "m"


def book_unit(bare: Unit | None, entries: tuple[Entry, ...]) -> Unit:
    """Return the level unit of a book whose readings were given so: inches or millimetres."""
    units = Counter(entry.typed.unit or bare for entry in entries)
    most = units.most_common(1)[0][0] if units else None
    return "in" if most in ("in", "ft") else "mm"


def marks_of(entries: tuple[Entry, ...]) -> Counter[str]:
    """Return the words that stand beside readings more than once, and how often."""
    notes = Counter(entry.typed.note for entry in entries if entry.typed.note)
    return Counter({n: k for n, k in notes.items() if n and k > 1 and n.strip("()*?!.").isalpha()})
