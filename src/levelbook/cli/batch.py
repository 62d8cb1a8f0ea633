"""Reports of one book or many: made side by side, a bad book never stopping the others."""

import os
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from levelbook.cli import inputs, outputs, pool
from levelbook.cli.failures import BookError, fault_document, faults_of, lines
from levelbook.errors import DocumentError, Fault, LevelbookError, UsageError

FOLDER = "reports"
GOOD, FINDINGS, BAD = 0, 1, 2


@dataclass(frozen=True)
class Order:
    """One report to make: from which book, into which folder, by which criteria.

    ``data`` is the book itself where it did not come from a file.
    """

    book: str
    folder: Path
    criteria: tuple[str, ...] = ()
    overwrite: bool = False
    data: bytes | None = None

    @property
    def name(self) -> str:
        """What the report's files are called, without their endings."""
        return "book" if self.book == inputs.STDIN else Path(self.book).stem

    @property
    def results(self) -> Path:
        """Where the JSON result goes; it vouches for the files beside it."""
        return self.folder / f"{self.name}.json"


@dataclass(frozen=True)
class Outcome:
    """What became of an order: its files, or its faults, in full and as lines."""

    book: str
    code: int
    files: tuple[Path, ...] = ()
    faults: tuple[Fault, ...] = ()
    told: tuple[str, ...] = ()


def order_each(
    books: Sequence[str], out: Path | None, criteria: tuple[str, ...], *, overwrite: bool
) -> list[Order]:
    """Return an order for each book.

    Raises
    ------
    UsageError
        If two reports would have the same name in the same folder, or one would replace a book.
    """
    orders: dict[Path, Order] = {}
    own = {Path(book).resolve(): book for book in books if book != inputs.STDIN}
    for book in books:
        data = inputs.read_bytes(book) if book == inputs.STDIN else None
        order = Order(book, out or _beside(book), criteria, overwrite, data)
        target = order.results.resolve()
        for file in (target, target.with_suffix(".pdf")):
            if file in own:
                problem = f"the report would replace the book {own[file]}"
                raise UsageError(book, problem, "choose another folder with --out")
        if target in orders:
            raise UsageError(
                book,
                f"its report would have the name of that of {orders[target].book}",
                "rename one of them, or give each a folder of its own with --out",
            )
        orders[target] = order
    return list(orders.values())


def _beside(book: str) -> Path:
    return Path(FOLDER) if book == inputs.STDIN else Path(book).parent / FOLDER


def write(order: Order) -> Outcome:
    """Make one report and put its files in place.

    Raises
    ------
    LevelbookError
        If the book has faults or a file cannot be written.
    """
    from levelbook.cli import verdict
    from levelbook.findings.assessment import assess
    from levelbook.report.build import build

    sets = inputs.criteria_sets(order.criteria)
    book, seal = inputs.read_sealed(order.book, order.data)
    assessment = assess(book, criteria=sets)
    photos = inputs.photos(book, Path(order.book).parent)
    report = build(assessment, photos=photos, seal=seal)
    files = {order.name + ending: content for ending, content in report.parts.items()}
    if not order.overwrite:
        outputs.refuse_foreign(order.folder, list(files), order.results.name)
    # The result goes first: what is interrupted can then be written again.
    result = outputs.save(order.folder, {order.results.name: files.pop(order.results.name)})
    saved = outputs.save(order.folder, files) + result
    code = FINDINGS if verdict.on_assessment(assessment) else GOOD
    return Outcome(order.book, code, tuple(saved))


def make(order: Order) -> Outcome:
    """Make one report; an error becomes an outcome that names the book."""
    try:
        return write(order)
    except LevelbookError as error:
        named = error if isinstance(error, BookError) else BookError(order.book, error)
        return Outcome(order.book, BAD, (), faults_of(named), tuple(lines(named)))


def run(orders: Sequence[Order], jobs: int = 0) -> list[Outcome]:
    """Make all reports, ``jobs`` at once (0: one a processor), in the order given.

    A single report is made in this process, and its errors are raised.

    Raises
    ------
    LevelbookError
        If the only order fails.
    """
    if len(orders) == 1:
        return [write(orders[0])]
    workers = min(jobs or os.cpu_count() or 1, len(orders))
    with _progress(orders) as done:
        found = pool.each(make, orders, workers, done)
    return [
        _ended(order, outcome) if isinstance(outcome, BaseException) else outcome
        for order, outcome in zip(orders, found, strict=True)
    ]


def _ended(order: Order, error: BaseException) -> Outcome:
    """Return the outcome of an order whose process did not come to its end."""
    if isinstance(error, BrokenProcessPool):
        problem = "the process that made its report ended suddenly"
        fault = Fault("lost", "report", problem, "see that there is memory to spare")
    else:
        problem = f"a fault of the program ({type(error).__name__}: {error})"
        fault = Fault("program", "report", problem, "please report it with the book")
    failure = BookError(order.book, DocumentError((fault,)))
    return Outcome(order.book, BAD, (), (fault,), tuple(lines(failure)))


@contextmanager
def _progress(orders: Sequence[Order]) -> Iterator[pool.Done]:
    """Show on a terminal how many reports are done; elsewhere show nothing."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    console = Console(stderr=True)
    bar = Progress(
        TextColumn("reports"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.description}", markup=False),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task("", total=len(orders))
        yield lambda i: bar.update(task, advance=1, description=orders[i].name)


def tell(outcomes: Sequence[Outcome]) -> None:
    """Print where the reports lie, and at the end, on standard error, which books failed."""
    for outcome in outcomes:
        for place in outcome.files:
            sys.stdout.write(f"{place}\n")
    sys.stdout.flush()
    failed = [outcome for outcome in outcomes if outcome.code == BAD]
    for outcome in failed:
        sys.stderr.writelines(f"levelbook: {line}\n" for line in outcome.told)
    if failed:
        names = ", ".join(outcome.book for outcome in failed)
        done = len(outcomes) - len(failed)
        sys.stderr.write(
            f"levelbook: {done} of {len(outcomes)} reports written; no report of: {names}\n"
        )


def document(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    """Return the outcomes as a JSON document."""
    return {
        "reports": [
            {
                "book": outcome.book,
                "files": [str(place.absolute()) for place in outcome.files],
                "findings": outcome.code == FINDINGS,
            }
            for outcome in outcomes
            if outcome.code != BAD
        ],
        "failed": [
            {"book": outcome.book, "faults": [fault_document(f) for f in outcome.faults]}
            for outcome in outcomes
            if outcome.code == BAD
        ],
    }
