"""A second way to what a workbook says: its formulas worked out here, in a few lines.

Covers what the workbook uses: arithmetic, references and ranges on other sheets, ``IF``,
``EXACT`` and ``SUMPRODUCT``; every stored result is ignored.
"""

import io
import re
from typing import Any

import numpy as np
import openpyxl
from openpyxl.utils import column_index_from_string

_RANGE = re.compile(r"(?:(\w+)!)?\$?([A-Z]+)\$?(\d+)(?::\$?([A-Z]+)\$?(\d+))?")


class Sheets:
    """A workbook's cells, worked out when asked for; ``set`` changes one as a person would."""

    def __init__(self, data: bytes) -> None:
        self._book = openpyxl.load_workbook(io.BytesIO(data))
        self._known: dict[tuple[str, int, int], Any] = {}
        self._names = {"IF": lambda c, a, b: a if c else b, "EXACT": _exact, "SUMPRODUCT": _sum}

    def set(self, sheet: str, row: int, column: int, value: float) -> None:
        """Write a number into a cell."""
        self._book[sheet].cell(row, column).value = value
        self._known.clear()

    def column(self, sheet: str, title: str) -> list[Any]:
        """Return the cells below a title."""
        page = self._book[sheet]
        (at,) = [c.column for c in page[1] if c.value == title]
        return [self.cell(sheet, row, at) for row in range(2, page.max_row + 1)]

    def cell(self, sheet: str, row: int, column: int) -> Any:
        """Return a cell's value, worked out where it is a formula."""
        key = (sheet, row, column)
        if key not in self._known:
            cell = self._book[sheet].cell(row, column)
            formula = cell.data_type == "f"
            self._known[key] = self._work_out(sheet, cell.value) if formula else cell.value
        return self._known[key]

    def _work_out(self, sheet: str, formula: str) -> Any:
        parts: dict[str, Any] = {}

        def name(match: re.Match[str]) -> str:
            parts[f"v{len(parts)}"] = self._range(match[1] or sheet, match)
            return f"v{len(parts) - 1}"

        text = _RANGE.sub(name, formula.removeprefix("=")).replace("=", "==")
        return eval(text, {"__builtins__": {}}, self._names | parts)

    def _range(self, sheet: str, match: re.Match[str]) -> Any:
        column, row = column_index_from_string(match[2]), int(match[3])
        if match[5] is None:
            found = self.cell(sheet, row, column)
            return 0.0 if found is None else found
        rows = range(row, int(match[5]) + 1)
        cells = [self.cell(sheet, r, column) for r in rows]
        return np.array([0.0 if c is None else c for c in cells], dtype=object)


def _exact(many: Any, one: Any) -> Any:
    return np.array([float(str(each) == str(one)) for each in many])


def _sum(product: Any) -> float:
    return float(sum(product))
