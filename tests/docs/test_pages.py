"""The pages tell every command, setting and file as they are, and their examples run."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command

from levelbook.cli.commands import app
from levelbook.demo import house
from levelbook.findings.catalogue import builtin_sets

ROOT = Path(__file__).resolve().parent.parent.parent
README = (ROOT / "README.md").read_text("utf-8")
COMMANDS = (ROOT / "docs" / "commands.md").read_text("utf-8")
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").rglob("*.md"))]


def options() -> list[tuple[str, str]]:
    """Return every command with each of its options, and the program's own."""
    group = get_command(app)
    found = [("", name) for p in group.params for name in p.opts if name.startswith("--")]
    for name, command in group.commands.items():  # type: ignore[attr-defined]
        found += [(name, o) for p in command.params for o in p.opts if o.startswith("--")]
    return found


def section(command: str) -> str:
    """Return the part of the page that tells one command."""
    heading = rf"^## `levelbook {command}.*?(?=^## |\Z)"
    match = re.search(heading, COMMANDS, flags=re.MULTILINE | re.DOTALL)
    assert match, f"no section on {command}"
    return match[0]


@pytest.mark.parametrize(("command", "option"), options())
def test_every_option_is_told(command: str, option: str) -> None:
    """Each command has its section, and each option stands in it."""
    assert option in section(command or "--version")


def test_every_command_is_in_the_readme() -> None:
    """The first page names every command."""
    commands = get_command(app).commands  # type: ignore[attr-defined]
    missing = [name for name in commands if f"levelbook {name}" not in README]
    assert not missing


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    """Every link within the project leads to a file that is there."""
    targets = re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text("utf-8"))
    local = [target for target in targets if "://" not in target]
    assert [target for target in local if not (page.parent / target).exists()] == []


def test_the_two_commands_are_in_the_readme() -> None:
    """Whoever opens the project sees at once how to start it and how to test it."""
    for command in ("make demo", "make test"):
        assert command in README


def test_every_set_of_criteria_is_named() -> None:
    """The page on criteria names every set that comes with the program."""
    page = (ROOT / "docs" / "criteria.md").read_text("utf-8")
    assert [each.id for each in builtin_sets() if f"`{each.id}`" not in page] == []


def test_every_setting_is_told() -> None:
    """Each environment variable of the program is told on a page."""
    text = "".join(page.read_text("utf-8") for page in PAGES)
    sources = [*(ROOT / "src").rglob("*.py"), *(ROOT / "tools").glob("*.py")]
    named = {v for p in sources for v in re.findall(r"LEVELBOOK_[A-Z]+", p.read_text("utf-8"))}
    assert {variable for variable in named if variable not in text} == set()


def test_the_example_of_the_readme_runs(tmp_path: Path) -> None:
    """The library example of the first page is run as it stands, on the demo's book."""
    (example,) = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    assert len(example.strip().splitlines()) <= 12
    (tmp_path / "house.json").write_bytes(house())
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", example],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"OMP_NUM_THREADS": "1"},
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "house.pdf").read_bytes().startswith(b"%PDF-")
    assert "±" in done.stdout
