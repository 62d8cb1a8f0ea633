"""Which column of a table is what: by its title, or asked."""

from collections.abc import Mapping
from typing import Literal

from levelbook.exchange.headings import Heading, find_heading, numeric
from levelbook.exchange.questions import Column, Interview, bad_answer, refused
from levelbook.exchange.tables import Table, letter
from levelbook.exchange.traps import check_booking

NONE = "none"
_ROLES = {
    "value": "the readings",
    "station": "the names of the stations",
    "x": "the places across the sheet (x)",
    "y": "the places up the sheet (y)",
    "finish": "what is underfoot (the finish)",
}


class Columns:
    """The columns of one table, each role's settled; what is unclear, ``talk`` asks.

    ``placed`` tells that places may come from elsewhere; ``second`` that this is the table of
    places beside another, whose questions have keys of their own.
    """

    def __init__(
        self, table: Table, talk: Interview, *, placed: bool, second: bool = False
    ) -> None:
        self.table, self.talk, self.second = table, talk, second
        self.heading: Heading = find_heading(table)
        self.data = range(self.heading.first, len(table.rows))
        self._check_ends()
        if not self.heading.own:
            check_booking(self.heading.titles, table.name)
        self.roles = self._settle(placed=placed)

    def _check_ends(self) -> None:
        """Refuse rows that go on beyond their titles, as where a decimal comma was cut in two."""
        titled = [i for i, title in enumerate(self.heading.titles) if title]
        self.beyond = range(max(titled) + 1, self.table.width) if titled else range(0)
        for column in self.beyond:
            cells = [self.table.rows[i][column].strip() for i in self.data]
            if sum(cell.isdecimal() for cell in cells) > len(cells) / 2:
                problem = f"its rows go on beyond the titles (column {letter(column)})"
                remedy = "give each column a title; put decimal commas in quotes, or use semicolons"
                raise refused("table", self.table.name, problem, remedy)

    def columns(self) -> tuple[Column, ...]:
        """Return every column with what it is taken for."""
        by_column = {column: role for role, column in self.roles.items()}
        return tuple(
            Column(letter(i), title, by_column.get(i))
            for i, title in enumerate(self.heading.titles)
        )

    def _settle(self, *, placed: bool) -> dict[str, int]:
        """Return the column of each role; asks where several fit or a needed one is missing."""
        found = self.heading.roles()
        found.pop("computed", None)
        settled: dict[str, int] = {}
        needed = {"value", "station"} | (set() if placed else {"x", "y"})
        if self.second:
            needed.remove("value")
        for role in (*_ROLES, *sorted(set(found) - set(_ROLES))):
            several = found.get(role, [])
            if len(several) == 1:
                settled[role] = several[0]
            elif several or (not self.heading.own and self._missing(role, needed, found)):
                column = self._ask_column(role, several)
                if column in settled.values():
                    remedy = "name a column that nothing else is taken from"
                    raise bad_answer(self.key(f"column.{role}"), letter(column or 0), remedy)
                if column is not None:
                    settled[role] = column
        return settled

    def _missing(self, role: str, needed: set[str], found: Mapping[str, list[int]]) -> bool:
        """Tell whether to ask for a role that no title names."""
        if role == "station":
            placed = "x" in found and "y" in found
            return bool(self._unknown(found)) or not placed
        return role in needed or (role == "finish" and bool(self._unknown(found)))

    def _unknown(self, found: Mapping[str, list[int]]) -> list[int]:
        """Return the columns with words or numbers that no role has claimed."""
        taken = {column for columns in found.values() for column in columns}
        return [i for i in range(self.table.width) if i not in taken and self._filled(i)]

    def _filled(self, column: int) -> bool:
        """Tell whether a column holds anything; beyond the titles, anything but slipped numbers."""
        cells = [self.table.rows[i][column] for i in self.data]
        return any(c.strip() and not (column in self.beyond and numeric(c)) for c in cells)

    def _ask_column(self, role: str, several: list[int]) -> int | None:
        numbers = role in ("value", "x", "y")
        fit = several or [i for i in range(self.table.width) if self._fits(i, numbers=numbers)]
        if not fit and role == "value":
            problem, remedy = "has no column of numbers", "name a table with readings"
            raise refused("import", self.table.name, problem, remedy)
        if not fit:
            return None
        options = {letter(i): self._shown(i) for i in fit}
        if role != "value":
            options[NONE] = "none of them"
        if len(options) == 1 and role == "value":
            return fit[0]
        asks = f"Which column holds {_ROLES.get(role, role)}?"
        usual = letter(fit[0]) if len(fit) == 1 else None
        answer = self.talk.choose(self.key(f"column.{role}"), asks, options, usual)
        return next((i for i in fit if letter(i) == answer), None)

    def _fits(self, column: int, *, numbers: bool) -> bool:
        cells = [self.table.rows[i][column] for i in self.data]
        return (
            sum(map(numeric, cells[:400])) > 0 if numbers else any(cell.strip() for cell in cells)
        )

    def _shown(self, column: int) -> str:
        """Return a column's title and its first cells, to know it by."""
        cells = [self.table.rows[i][column].strip() for i in self.data]
        some = ", ".join([cell[:20] for cell in cells if cell][:3])
        return f"{self.heading.titles[column] or 'no title'}: {some}, …"

    def lined(self, i: int, role: str) -> Literal["whole", "part"] | None:
        """Tell whether a row's cell of a role is struck through, as a whole or in part."""
        spot = (i, self.roles.get(role, -1))
        struck = self.table.struck
        return "whole" if spot in struck.whole else "part" if spot in struck.part else None

    def lined_alone(self, i: int, role: str) -> bool:
        """Tell whether a cell is struck through, but not as a whole with the row's reading."""
        lined = self.lined(i, role)
        return lined is not None and {lined, self.lined(i, "value")} != {"whole"}

    def cell_name(self, i: int, role: str) -> str:
        """Return how the cell of a role is called in its file."""
        return self.table.cell(i, self.roles[role])

    def key(self, key: str) -> str:
        """Return a question's key, another for the table of places beside the readings."""
        return f"second.{key}" if self.second else key

    def cells(self, *roles: str) -> list[str]:
        """Return every cell of data in the columns of some roles that was typed as text."""
        columns, stored = [self.roles[r] for r in roles if r in self.roles], self.table.stored
        return [self.table.rows[i][c] for i in self.data for c in columns if (i, c) not in stored]
