"""Every code of a fault or notice is told in docs/errors.md, and none that does not exist."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
PAGE = (ROOT / "docs" / "errors.md").read_text("utf-8")


def first_text(call: ast.Call) -> str | None:
    """Return the first argument of a call where it is a plain text."""
    if call.args and isinstance(call.args[0], ast.Constant) and isinstance(call.args[0].value, str):
        return call.args[0].value
    return None


def table_of(node: ast.expr) -> Iterator[str]:
    """Yield the codes of a table of answers: keys, or what stands beside a status."""
    if isinstance(node, ast.Dict):
        keys = [ast.literal_eval(key) for key in node.keys if key is not None]
        yield from (key for key in keys if isinstance(key, str))
    if isinstance(node, ast.Tuple):
        for pair in node.elts:
            assert isinstance(pair, ast.Tuple)
            yield ast.literal_eval(pair.elts[1])[1]


def codes_in(tree: ast.AST) -> Iterator[str]:
    """Yield the codes that a file gives: to a record, a collector, or as words (code, …)."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else None
            verb = node.func.attr if isinstance(node.func, ast.Attribute) else None
            text = first_text(node)
            if text and (
                name in ("Fault", "Notice", "refused") or (verb in ("add", "stop", "_tell"))
            ):
                yield text
            if name == "error_document" and text:
                yield text
            if name == "_told" and len(node.args) == 4:
                yield ast.literal_eval(node.args[1])
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) in ("_KINDS", "_UNABLE"):
            yield from table_of(node.value)
        if isinstance(node, ast.FunctionDef) and ast.unparse(node.returns or node) == "Words":
            for inner in ast.walk(node):
                if isinstance(inner, ast.Return) and isinstance(inner.value, ast.Tuple):
                    yield ast.literal_eval(inner.value.elts[0])


def given() -> set[str]:
    """Return every code in the source."""
    return {
        code
        for path in (ROOT / "src").rglob("*.py")
        for code in codes_in(ast.parse(path.read_text("utf-8")))
    }


def told() -> set[str]:
    """Return every code in the tables of the page."""
    rows = re.findall(r"^\| (`[^|]*`) \|", PAGE, flags=re.MULTILINE)
    return {code for row in rows for code in re.findall(r"`([\w-]+)`", row)}


def test_the_source_gives_codes() -> None:
    """The search finds the codes at all: some from every way of giving one."""
    assert {"outline", "missed-corner", "choice", "usage", "not-json"} <= given()
    assert {"no-such-visit", "signed-out", "database", "not-ready", "refused"} <= given()


def test_every_code_is_told() -> None:
    """A new code must be explained to users."""
    assert given() - told() == set()


def test_no_code_is_told_that_does_not_exist() -> None:
    """A code that was renamed must not live on in the page."""
    assert told() - given() == set()
