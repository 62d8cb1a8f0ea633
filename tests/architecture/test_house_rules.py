"""Rules that every file keeps: its length, its words, what it must not hold."""

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
LONGEST_FILE, LONGEST_FUNCTION = 600, 60
CODE = (".py", ".ts", ".js", ".svelte", ".css", ".html", ".typ", ".sh")
# Folders of someone's machine, and addresses of package indexes, have no place in the tree.
HOST_PATHS = re.compile(
    r"(?<![\w./])/(?:home|Users|root|work|tmp|opt|mnt)/[\w.-]+|(?:pypi|npm)[\w.-]*\.internal"
)


def kept() -> list[Path]:
    """Return every file that git keeps, or would keep, which is text."""
    told = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    files = [ROOT / name for name in told.stdout.splitlines()]
    return [f for f in files if f.is_file() and f.suffix not in (".png", ".pdf", ".ttf", ".otf")]


def library() -> list[Path]:
    """Return the Python files of the package."""
    return sorted((ROOT / "src").rglob("*.py"))


def named(path: Path) -> str:
    """Return a file's name for the test report."""
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("path", [p for p in kept() if p.suffix in CODE], ids=named)
def test_no_file_is_too_long(path: Path) -> None:
    """No file of code grows beyond what one reads in a sitting."""
    assert len(path.read_text("utf-8").splitlines()) <= LONGEST_FILE


def public(body: list[ast.stmt]) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef]:
    """Yield what a module or class shows: neither what is private nor what is within it."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            if node.name.startswith("_"):
                continue
            yield node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body)


@pytest.mark.parametrize("path", library(), ids=named)
def test_everything_public_is_told(path: Path) -> None:
    """Every module and public class, method and function says what it is."""
    tree = ast.parse(path.read_text("utf-8"))
    assert ast.get_docstring(tree), "the module has no docstring"
    assert [node.name for node in public(tree.body) if not ast.get_docstring(node)] == []


@pytest.mark.parametrize("path", library(), ids=named)
def test_functions_are_short(path: Path) -> None:
    """No function runs on."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            assert length <= LONGEST_FUNCTION, f"{node.name} has {length} lines"


@pytest.mark.parametrize("path", library(), ids=named)
def test_the_library_neither_prints_nor_swallows(path: Path) -> None:
    """The library prints nothing and catches no error it did not name."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id != "print", f"line {node.lineno}: print"
        if isinstance(node, ast.ExceptHandler):
            caught = node.type
            assert caught is not None, f"line {node.lineno}: bare except"
            if isinstance(caught, ast.Name):
                assert caught.id not in ("Exception", "BaseException"), f"line {node.lineno}"


def test_no_path_of_a_machine() -> None:
    """Nothing kept names a folder of someone's machine or the host of a package index."""
    found = []
    for path in kept():
        if path == Path(__file__):
            continue
        try:
            text = path.read_text("utf-8")
        except UnicodeDecodeError:
            continue
        found += [f"{named(path)}: {hit}" for hit in HOST_PATHS.findall(text)]
    assert not found


def test_names_of_test_files_differ() -> None:
    """No two files of the tests share a name, since the folders of tests are no packages."""
    files = (ROOT / "tests").rglob("*.py")
    names = [path.name for path in files if path.name != "conftest.py"]
    assert len(names) == len(set(names)), sorted({n for n in names if names.count(n) > 1})
