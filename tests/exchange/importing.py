"""Importing in tests: answers are given as the questions come, and every question is kept."""

from collections.abc import Mapping
from typing import Any

from levelbook.exchange.incoming import plan_import
from levelbook.exchange.questions import ImportPlan


def imported(
    data: bytes | str, answers: Mapping[str, str], name: str = "table.csv", **more: Any
) -> tuple[ImportPlan, set[str]]:
    """Return the last plan, and every question that was put on the way.

    A question without an answer ends the way; so does a book.
    """
    asked: set[str] = set()
    given: dict[str, str] = {}
    for _ in range(10):
        plan = plan_import(data, name, given, **more)
        if not plan.questions:
            return plan, asked
        asked |= {question.key for question in plan.questions}
        fresh = {q.key: answers[q.key] for q in plan.questions if q.key in answers}
        if len(fresh) < len(plan.questions):
            return plan, asked
        given |= fresh
    raise AssertionError(f"the questions do not end: {asked}")
