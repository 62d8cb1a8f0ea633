"""When a command says that there is something to look at in a book (exit code 1)."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from levelbook.findings.model import Assessment
    from levelbook.floor.model import Suspect
    from levelbook.levels.model import Levels
    from levelbook.movement.model import Comparison


def on_levels(levels: "Levels", suspects: "Sequence[Suspect]") -> bool:
    """Tell whether the readings ask for a second look.

    They do if one is suspect, a closing check misses by more than is allowed, or their
    scatter does not agree with the instruments' standard deviation.
    """
    open_ends = any(abs(c.misclosure) > c.allowed for c in levels.closures)
    return bool(suspects) or open_ends or levels.fit.ok is False


def on_assessment(assessment: "Assessment") -> bool:
    """Tell whether a book has findings: the readings', the book's own, or the floor's.

    A limit on construction or on the survey itself that is passed is no finding about the
    floor; movement and damage are.
    """
    beyond = any(
        f.state == "beyond" and f.kind in ("movement", "damage category")
        for f in assessment.findings
    )
    return (
        beyond
        or bool(assessment.warnings)
        or assessment.screening.outcome == "ask an engineer"
        or on_levels(assessment.levels, assessment.floor.suspects)
    )


def on_comparison(comparison: "Comparison") -> bool:
    """Tell whether two visits show a change: the global test does, or a place stands out."""
    stations = comparison.movements.stations.values()
    return bool(comparison.congruence.moved) or any(each.significant for each in stations)
