"""Paragraphs, lists and tables on a terminal; every text of a book is plain text, no markup."""

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from levelbook.book.model import Book
from levelbook.book.numbers import counted

WIDEST = 100
UNITS = {"in": "inches", "mm": "millimetres"}


class Printer:
    """Prints the parts of a result; every text of the book is plain text, never markup."""

    def __init__(self, console: Console, book: Book) -> None:
        self.console, self.book = console, book

    def head(self) -> None:
        """Print which visit this is, and how its numbers are meant."""
        book = self.book
        self.say(f"{book.property.label}, {book.visit.date}", "bold")
        struck = sum(reading.struck for reading in book.readings)
        self.say(
            f"{counted(len(book.stations), 'station')}, "
            f"{counted(len(book.readings) - struck, 'reading')} in use, "
            f"{struck} struck; levels in {UNITS[book.units.level]}, ± is half of the 95 % interval"
        )

    def say(self, text: str, style: str = "") -> None:
        """Print one paragraph."""
        self.console.print(Text(text, style=style))

    @property
    def width(self) -> int:
        """Return how wide a drawing may be, in characters."""
        return min(self.console.width, WIDEST)

    @property
    def unicode(self) -> bool:
        """Whether the terminal shows more than plain ASCII."""
        return self.console.encoding.startswith("utf")

    def drawing(self, text: str) -> None:
        """Print lines as they are, under an empty one."""
        self.console.print(Text(f"\n{text}"), no_wrap=True, crop=False, overflow="ignore")

    def points(self, title: str, texts: Iterable[str]) -> None:
        """Print a list with its title; nothing where there is nothing to list."""
        texts = list(texts)
        if texts:
            self.say(f"\n{title}", "bold")
        for text in texts:
            self.console.print(Text(f"  • {text}"))

    def table(self, title: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
        """Print a table, the columns whose name begins with ``>`` set to the right."""
        rows = list(rows)
        if not rows:
            return
        table = Table(title=title, title_justify="left", title_style="bold", box=None)
        for column in columns:
            right = column.startswith(">")
            table.add_column(column.lstrip(">"), justify="right" if right else "left")
        for row in rows:
            table.add_row(*map(Text, row))
        self.console.print()
        self.console.print(table)
