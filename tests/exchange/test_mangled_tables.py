"""However a table is mangled: right, a question, or an error, and never another number."""

import os

from hypothesis import given, settings
from importing import imported
from mangled import Mangled, mangled

from levelbook.book.numbers import parse_value
from levelbook.errors import DocumentError
from levelbook.exchange.questions import ImportPlan

EXAMPLES = int(os.environ.get("LEVELBOOK_TEST_EXAMPLES", "120"))


def outcome(table: Mangled) -> ImportPlan | None:
    """Return the plan that the answers of somebody who knows lead to; nothing where refused."""
    try:
        return imported(table.data, table.answers)[0]
    except DocumentError as error:
        told = error.faults
    assert all(fault.place and fault.remedy for fault in told)
    return None


@settings(max_examples=EXAMPLES)
@given(mangled())
def test_never_another_number(table: Mangled) -> None:
    """Each reading taken is the one written, where it was, on what it was; the rest is told."""
    plan = outcome(table)
    if plan is None or plan.book is None:
        assert plan is None or plan.questions
        return
    places = {station.id: station.at for station in plan.book.stations}
    assert plan.book.units.level == table.unit
    for reading in plan.book.readings:
        assert reading.station in table.truth, reading
        true = table.truth[reading.station]
        assert parse_value(reading.value) == true.value, reading
        assert places[reading.station] == true.at
        assert reading.finish == true.finish
    told = len(plan.book.readings) + len(plan.left)
    assert told >= len(table.truth)


def test_most_come_in() -> None:
    """The law is not kept by refusing everything: well over half of such tables give a book."""
    found: list[bool] = []

    @settings(max_examples=60, database=None, derandomize=True)
    @given(mangled())
    def look(table: Mangled) -> None:
        plan = outcome(table)
        found.append(plan is not None and plan.book is not None)

    look()
    assert sum(found) > 0.5 * len(found)
