"""Figures of an archive on a terminal: sentences first, then a table for each quantity."""

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from levelbook.archive.evaluation import telling
from levelbook.archive.evaluation.figures import QUANTITIES, Group, Houses
from levelbook.book.numbers import counted


def show(
    console: Console, houses: Houses, groups: Sequence[Group], house: telling.HousePlaced | None
) -> None:
    """Print where a house stands, if one is given, then how each quantity is spread."""
    found = counted(len(houses.rows), "house")
    console.print(Text(f"{found}, the latest visit of each", style="bold"))
    left = f"; {houses.slips} left out with readings that look like slips" if houses.slips else ""
    console.print(Text(f"{counted(houses.visits, 'visit')}{left}"))
    if house is not None:
        console.print()
        for sentence in telling.house_sentences(house, houses.unit):
            console.print(Text(f"  • {sentence}"))
    if not houses.rows:
        console.print(Text(f"\n{telling.NO_HOUSES}"))
        return
    for position, quantity in enumerate(QUANTITIES):
        console.print()
        console.print(_table(quantity, position, groups, houses.unit))
    console.print()
    for note in (telling.reading_note(), *telling.CAUTIONS):
        console.print(Text(note))


def _table(quantity: str, position: int, groups: Sequence[Group], unit: str) -> Table:
    title = telling.title(quantity, unit)
    table = Table(title=title, title_justify="left", title_style="bold", box=None)
    table.add_column("houses of the kind")
    for name in ("number", *telling.headings(), "sd"):
        table.add_column(name, justify="right")
    for group in groups:
        spread = group.spreads[position]
        told = (group.name, f"{spread.count}", *telling.cells(spread, unit))
        table.add_row(*map(Text, (*told, telling.doubt_text(spread, unit))))
    return table
