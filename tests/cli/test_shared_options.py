"""An option that several commands have is declared once, with one text of help."""

from typing import Any

import pytest
from typer.main import get_command

from levelbook.cli.commands import app


def declared(option: str) -> dict[str, Any]:
    """Return an option as each command has it, by the command's name."""
    found = {}
    group: Any = get_command(app)
    for name, command in group.commands.items():
        for inner, each in getattr(command, "commands", {"": command}).items():
            params = (p for p in each.params if option in p.opts)
            found |= {f"{name} {inner}".strip(): param for param in params}
    return found


@pytest.mark.parametrize(("option", "least"), [("--database", 9), ("--json", 15)])
def test_one_declaration(option: str, least: int) -> None:
    """Help, placeholder and variable of the environment are the same wherever it is taken."""
    found = declared(option)
    assert len(found) >= least
    told = {(param.help, param.metavar, str(param.envvar)) for param in found.values()}
    assert len(told) == 1, told
