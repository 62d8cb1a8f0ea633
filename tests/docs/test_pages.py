"""The pages tell every command, setting and file as they are, and their examples run."""

import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from levelbook.cli.commands import app
from levelbook.demo import house
from levelbook.findings.catalogue import builtin_sets

ROOT = Path(__file__).resolve().parent.parent.parent
README = (ROOT / "README.md").read_text("utf-8")
COMMANDS = (ROOT / "docs" / "commands.md").read_text("utf-8")
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").rglob("*.md"))]


def commands() -> dict[str, Any]:
    """Return every command by its name, those of a group by both words; ``""`` is the program."""
    group = get_command(app)
    found: dict[str, Any] = {"": group}
    for name, command in group.commands.items():  # type: ignore[attr-defined]
        inner = getattr(command, "commands", None)
        found |= {name: command} if inner is None else {f"{name} {n}": c for n, c in inner.items()}
    return found


def options_of(command: str) -> set[str]:
    """Return the options of a command."""
    return {o for p in commands()[command].params for o in p.opts if o.startswith("--")}


def options() -> list[tuple[str, str]]:
    """Return every command with each of its options."""
    return [(name, option) for name in commands() for option in sorted(options_of(name))]


def sections() -> dict[str, str]:
    """Return the part of the page that tells each command; one may tell several of a group."""
    found: dict[str, str] = {}
    parts = re.split(r"^## (?=`levelbook )", COMMANDS, flags=re.MULTILINE)[1:]
    for part in parts:
        name, _, rest = part.partition("\n")[0].removeprefix("`levelbook ").partition(" ")
        several = rest.partition("`")[0].split("|") if "|" in rest else []
        names = [f"{name} {each}" for each in several] or [name.partition("`")[0]]
        found |= dict.fromkeys(names, part)
    found[""] = found.get("--version", "")
    return found


def test_the_search_finds_commands_of_groups() -> None:
    """Groups are looked into: what is known to be there is found."""
    assert {("archive backup", "--lacking"), ("firm new", "--owner")} <= set(options())
    assert {("check", "--json"), ("", "--version")} <= set(options())


@pytest.mark.parametrize(("command", "option"), options())
def test_every_option_is_told(command: str, option: str) -> None:
    """Each command has its section, and each option stands in it."""
    assert re.search(rf"{option}(?![\w-])", sections()[command])


def test_no_option_is_told_that_does_not_exist() -> None:
    """What a point of a section is about is an option of one of the section's commands."""
    wrong = []
    for told in set(sections().values()):
        names = [name for name, part in sections().items() if part == told]
        known = {option for name in names if name in commands() for option in options_of(name)}
        points = re.findall(r"^- `(--[\w-]+)", told, flags=re.MULTILINE)
        wrong += [(names, option) for option in points if option not in known]
    assert wrong == []


def test_every_section_tells_a_command() -> None:
    """No section on a command is left over."""
    assert set(sections()) - set(commands()) <= {"--version", "--help"}


def test_every_command_is_in_the_readme() -> None:
    """The first page names every command, and of a group its first word at least."""
    names = {name.partition(" ")[0] for name in commands()}
    assert [name for name in names if f"levelbook {name}" not in README] == []


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
