"""The packages stand in one order, and each imports only those before it."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
SOURCE = ROOT / "src" / "levelbook"
PURE = ("book", "levels", "floor", "movement", "findings")
IMPURE = ("os", "pathlib", "socket", "subprocess", "tempfile", "time", "urllib", "shutil")


def stages() -> list[list[str]]:
    """Return the rows of the architecture page's table: packages that stand side by side."""
    text = (ROOT / "docs" / "architecture.md").read_text("utf-8")
    rows = re.findall(r"^\| (`[^|]*`) \|", text, flags=re.MULTILINE)
    return [re.findall(r"`(\w+)`", row) for row in rows]


def rank() -> dict[str, int]:
    """Return the place of each package in the order."""
    return {name: i for i, row in enumerate(stages()) for name in row}


def package_of(path: Path) -> str:
    """Return the package (or the single module) that a file belongs to."""
    return path.relative_to(SOURCE).parts[0].removesuffix(".py")


def imports(tree: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Yield every module that a file imports, wherever in the file that stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full"
            yield node.module or "", node
            for alias in node.names:
                yield f"{node.module}.{alias.name}", node


def sources() -> list[Path]:
    """Return every Python file of the package."""
    return sorted(SOURCE.rglob("*.py"))


def test_every_package_is_in_the_table() -> None:
    """The table of the architecture page names every package, and none that is not there."""
    here = {package_of(path) for path in sources()} - {"__init__", "__main__"}
    assert here <= set(rank())


@pytest.mark.parametrize("path", sources(), ids=lambda p: str(p.relative_to(SOURCE)))
def test_imports_point_backwards(path: Path) -> None:
    """A file imports only its own package and those before it in the table."""
    order = rank()
    own = package_of(path)
    for module, node in imports(ast.parse(path.read_text("utf-8"))):
        parts = module.split(".")
        if parts[0] != "levelbook" or len(parts) < 2 or parts[1] not in order:
            continue
        earlier = order[parts[1]] < order.get(own, len(order))  # the package's own files: last
        assert parts[1] == own or earlier, (
            f"line {node.lineno}: {own} imports {module}"  # type: ignore[attr-defined]
        )


@pytest.mark.parametrize(
    "path",
    [path for path in sources() if package_of(path) in PURE],
    ids=lambda p: str(p.relative_to(SOURCE)),
)
def test_the_core_knows_no_files_and_no_clock(path: Path) -> None:
    """The core neither opens files nor asks the time nor keeps global state."""
    tree = ast.parse(path.read_text("utf-8"))
    for module, _ in imports(tree):
        assert module.split(".")[0] not in IMPURE, module
    for node in ast.walk(tree):
        assert not isinstance(node, ast.Global)
        if isinstance(node, ast.Attribute):
            assert node.attr not in ("now", "utcnow", "today"), "the core asks no clock"
        if isinstance(node, ast.Name):
            assert node.id != "open", "the core opens no file"
