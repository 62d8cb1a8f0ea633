"""Where water goes, from the command line."""

import json
from importlib import resources

import pytest
from typer.testing import CliRunner

from levelbook.cli.commands import app
from levelbook.errors import UsageError


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the place of the demo's book."""
    path = tmp_path_factory.mktemp("water") / "house.json"
    text = resources.files("levelbook.demo").joinpath("house.json").read_text("utf-8")
    path.write_text(text, "utf-8")
    return str(path)


def test_water_is_followed_from_a_named_place(demo: str) -> None:
    """``--water`` adds a way to the garage's result."""
    done = CliRunner().invoke(app, ["assess", demo, "--json", "--water", "40,10"])
    assert [way["start"] for way in json.loads(done.stdout)["garage"]["from"]] == [[40.0, 10.0]]


def test_the_tables_tell_where_water_goes(demo: str) -> None:
    """The garage's words and its cautions stand in the tables."""
    said = " ".join(CliRunner().invoke(app, ["assess", demo]).stdout.split())
    assert "Where water goes, garage" in said
    assert "local authority" in said


@pytest.mark.parametrize("place", ["40", "a,b", "nan,3", "5,5"])
def test_a_place_that_is_none_or_elsewhere_is_refused(demo: str, place: str) -> None:
    """What is no place, or lies on no garage floor, ends the command with a clear message."""
    with pytest.raises(UsageError, match=r"place|garage floor"):
        CliRunner().invoke(app, ["assess", demo, "--water", place], catch_exceptions=False)
