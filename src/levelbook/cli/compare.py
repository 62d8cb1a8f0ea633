"""The command that compares visits."""

from typing import TYPE_CHECKING, Annotated

import typer

from levelbook.cli import inputs, outputs
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.movement.model import Visit

GOOD, FINDINGS = 0, 1


def compare(
    books: Annotated[
        list[str],
        typer.Argument(
            metavar="EARLIER LATER [MORE...]",
            help="level-book files of one house, in the order of their dates",
        ),
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="print the result as one JSON document")
    ] = False,
    hold: Annotated[
        str,
        typer.Option(
            "--hold",
            metavar="ID,ID...",
            help="stations known to have stood still, such as an outside bench mark "
            "(default: those that agree with one another)",
        ),
    ] = "",
    tolerance: Annotated[
        float | None,
        typer.Option(
            "--tolerance",
            min=0.0,
            metavar="LENGTH",
            help="how far a station may lie from its former place, in the plan's unit "
            "(default: 2 ft or 0.6 m)",
        ),
    ] = None,
    covariance: Annotated[
        bool, typer.Option("--covariance", help="with --json: the movements' covariance too")
    ] = False,
) -> int:
    """Compare visits to one house: what changed, how sure that is, and what cannot be known."""
    if len(books) < 2:
        raise UsageError("books", "one visit cannot be compared", "name two or more, oldest first")
    visits = [_visit(path) for path in books]
    from levelbook.findings.compared import compare_document
    from levelbook.findings.comparison import comparison_words
    from levelbook.movement import compare as compare_visits

    held = [each.strip() for each in hold.split(",") if each.strip()]
    found = compare_visits(visits[0], visits[-1], hold=held, tolerance=tolerance)
    words = comparison_words(found)
    if as_json:
        outputs.emit(compare_document(found, words.caveats, covariance=covariance))
    return FINDINGS if found.congruence.moved else GOOD


def _visit(path: str) -> "Visit":
    """Return a visit with its levels."""
    from levelbook.levels import reduce
    from levelbook.movement import Visit

    book = inputs.read(path)
    return Visit(book, reduce(book))
