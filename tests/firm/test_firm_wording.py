"""The sentences of the firm's part: each is used, and each use has its sentence."""

import ast
from pathlib import Path

import pytest

import levelbook
from levelbook.errors import UsageError
from levelbook.firm.wording import say, told_day, wording

SOURCE = Path(levelbook.__file__).parent
BUILT = {"page.skip", "page.plan", "page.trust", "page.verify", "page.banner"}
"""Keys that a page's maker puts together from their names."""


def used() -> set[str]:
    """Return every key that the source asks for."""
    found = set()
    for path in [*(SOURCE / "firm").glob("*.py"), *(SOURCE / "app").glob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say":
                key = node.args[0]
                found |= {key.value} if isinstance(key, ast.Constant) else set()
    return found | BUILT


def test_every_sentence_is_used_and_every_use_has_one() -> None:
    """A renamed sentence is found on both sides."""
    assert set(wording().templates) == used()


def test_a_sentence_asks_for_exactly_its_values() -> None:
    """A missing or a further value is an error of the caller."""
    with pytest.raises(UsageError, match="asks for"):
        say("issue.name", number="2026-0001")
    with pytest.raises(UsageError, match="no such key"):
        say("issue.other")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2026-05-14", "May 14, 2026"),
        ("2026-05-14T18:00:00Z", "May 14, 2026"),
        ("2026-05", "2026-05"),
        ("14 May", "14 May"),
        ("", ""),
    ],
)
def test_a_day_is_told_as_people_say_it(text: str, told: str) -> None:
    """What is no day stays as it was written."""
    assert told_day(text) == told
