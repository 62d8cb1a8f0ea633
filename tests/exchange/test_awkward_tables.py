"""Awkward tables come in right or are asked about: never a silent wrong number."""

import pytest
from awkward import ALWAYS, CASES, Case
from importing import imported

from levelbook.book.numbers import parse_value
from levelbook.errors import DocumentError

GOOD = [case for case in CASES if case.refused is None]
BAD = [case for case in CASES if case.refused is not None]


def test_there_are_forty() -> None:
    """The collection does not shrink unseen, and no two cases share a name."""
    assert len(CASES) >= 40
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", GOOD, ids=lambda case: case.name)
def test_comes_in_right(case: Case) -> None:
    """Every reading is taken exactly, and everything else is told."""
    plan, asked = imported(case.data, ALWAYS | case.answers)
    assert plan.book is not None, plan.questions
    found = {r.station: parse_value(r.value) for r in plan.book.readings}
    assert found == case.due
    assert len(plan.book.readings) == len(case.due)
    assert plan.book.units.level == case.unit
    assert len(plan.left) == case.left
    assert asked - set(ALWAYS) >= case.asks
    if case.finishes is not None:
        assert {finish.id for finish in plan.book.finishes} == case.finishes


@pytest.mark.parametrize("case", [c for c in GOOD if not c.asks], ids=lambda case: case.name)
def test_asks_nothing_needless(case: Case) -> None:
    """What the table tells by itself is not asked."""
    _, asked = imported(case.data, ALWAYS | case.answers)
    assert asked <= set(ALWAYS)


@pytest.mark.parametrize("case", [c for c in GOOD if c.asks], ids=lambda case: case.name)
def test_is_not_taken_unasked(case: Case) -> None:
    """Without an answer to what is unclear there is no book."""
    plan, asked = imported(case.data, ALWAYS)
    assert plan.book is None
    assert asked & case.asks
    assert all(question.asks.endswith("?") for question in plan.questions if question.options)


@pytest.mark.parametrize("case", BAD, ids=lambda case: case.name)
def test_is_refused_with_a_remedy(case: Case) -> None:
    """A file that cannot be used is refused in one sentence with place and remedy."""
    with pytest.raises(DocumentError) as told:
        imported(case.data, ALWAYS | case.answers)
    (fault,) = told.value.faults
    assert fault.code == case.refused
    assert fault.remedy


@pytest.mark.parametrize("case", GOOD, ids=lambda case: case.name)
def test_what_was_left_has_place_and_reason(case: Case) -> None:
    """Whoever reads what was left can find it in the file and knows why."""
    plan, _ = imported(case.data, ALWAYS | case.answers)
    assert all(left.place and left.why for left in plan.left)
