"""Review: every step by its rule, kept for good, and none in another firm."""

import houses
import pytest
from houses import BOSS, FIRM, LEAD, STRANGER, WALKER

from levelbook.archive.database import Database
from levelbook.errors import ConflictError, DeniedError, MissingError, UsageError
from levelbook.firm.reviews import (
    CHANGED,
    DRAFT,
    FOR_REVIEW,
    MOVES,
    RELEASED,
    STATES,
    check_move,
    events,
    move,
    moves_of,
)
from levelbook.firm.roles import ROLES, Who

AT = "2026-05-20T16:00:00.000000Z"


def test_a_visit_goes_to_review_and_back(firms: Database) -> None:
    """Steps are kept in their order, each with who took it, when and why."""
    visit = houses.take_in(firms)
    move(firms, WALKER, visit, FOR_REVIEW, "", AT)
    move(firms, LEAD, visit, DRAFT, "The garage has no pair.", AT)
    told = [(e.state, e.person, e.reason) for e in events(firms, FIRM, visit)]
    assert told == [
        (FOR_REVIEW, WALKER.person, ""),
        (DRAFT, LEAD.person, "The garage has no pair."),
    ]


def test_another_firm_sees_and_moves_nothing(firms: Database) -> None:
    """The visit of one firm is for another as one that does not exist."""
    visit = houses.take_in(firms)
    for attempt in (
        lambda: move(firms, STRANGER, visit, FOR_REVIEW, "", AT),
        lambda: move(firms, LEAD, "no-such-visit", FOR_REVIEW, "", AT),
        lambda: events(firms, STRANGER.firm, visit),
    ):
        with pytest.raises(MissingError, match="there is no such visit"):
            attempt()
    assert events(firms, FIRM, visit) == ()


def test_a_step_that_cannot_be_taken_leaves_nothing(firms: Database) -> None:
    """An early or repeated step is refused with what to do, and no event stays of it."""
    visit = houses.take_in(firms)
    with pytest.raises(ConflictError, match="ask for its review first"):
        move(firms, LEAD, visit, DRAFT, "again", AT)
    with pytest.raises(UsageError, match="choose draft or for review"):
        move(firms, BOSS, visit, RELEASED, "", AT)
    move(firms, WALKER, visit, FOR_REVIEW, "", AT)
    with pytest.raises(UsageError, match="needs its reason"):
        move(firms, LEAD, visit, DRAFT, " ", AT)
    with pytest.raises(UsageError, match="too long"):
        move(firms, LEAD, visit, DRAFT, "x" * 2001, AT)
    assert len(events(firms, FIRM, visit)) == 1


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("to", STATES)
@pytest.mark.parametrize("role", ROLES)
def test_every_step_by_the_table(state: str, to: str, role: str) -> None:
    """A step is allowed exactly where the table has it for the role; only leads release."""
    who = Who(FIRM, "someone", role)
    found = MOVES.get((state, to))
    if found is None:
        with pytest.raises(ConflictError):
            check_move(who, state, to, "why")
    elif role not in found.roles:
        with pytest.raises(DeniedError):
            check_move(who, state, to, "why")
    else:
        check_move(who, state, to, "why")
    assert (to in moves_of(state, role)) == (found is not None and role in found.roles)
    if to == RELEASED:
        assert (found is not None) == (state == FOR_REVIEW)
        assert found is None or "surveyor" not in found.roles
    assert to != CHANGED or found is None
