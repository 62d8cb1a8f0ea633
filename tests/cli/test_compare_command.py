"""The command that compares visits: what it prints, writes, refuses, and its exit codes."""

import json
from pathlib import Path

import numpy as np
import pytest

from levelbook.book import write_book
from levelbook.cli.main import main
from levelbook.floor.simulate import simulate_house
from levelbook.movement.simulate import Drop, second_visit


@pytest.fixture
def books(tmp_path: Path) -> list[str]:
    """Return the paths of a house's visits: a first one, a still one, one with a corner down."""
    rng = np.random.default_rng(11)
    house = simulate_house(rng, kind="dome", stations=24)
    xy = np.array([s.at for s in house.book.stations])
    out = []
    for name, size, day in (
        ("one", 0.0, None),
        ("two", 0.0, "2026-12-15"),
        ("three", 1.5, "2027-12-15"),
    ):
        rise = Drop((0.0, 0.0), size, 18.0).height(xy)
        moved = {s.id: float(r) for s, r in zip(house.book.stations, rise, strict=True)}
        book = house.book if day is None else second_visit(rng, house, moved, 0.05)
        if day is not None:
            book = book.model_copy(update={"visit": book.visit.model_copy(update={"date": day})})
        path = tmp_path / f"{name}.json"
        path.write_text(write_book(book), "utf-8")
        out.append(str(path))
    return out


def test_json_and_exit_codes(books: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """0 where nothing stands out, 1 where something does; the result is one document."""
    assert main(["compare", books[0], books[1], "--json"]) == 0
    still = json.loads(capfd.readouterr().out)
    assert still["congruence"]["moved"] is False
    assert main(["compare", books[0], books[2], "--json"]) == 1
    told = json.loads(capfd.readouterr().out)
    assert told["congruence"]["moved"] is True
    assert len(told["sha256"]) == 2
    assert any(s["significant"] and s["moved"] < 0 for s in told["stations"].values())


def test_text_leads_with_the_statement(books: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """People read first what changed, then what cannot be told, then every place."""
    main(["compare", books[0], books[2]])
    told = capfd.readouterr().out
    order = ["What the two visits show", "What they cannot tell", "Change at every place"]
    assert sorted(order, key=told.index) == order
    assert told.index("tilt") < told.index("stand out singly")


def test_report_is_written_and_foreign_files_are_kept(
    books: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """--out writes four files; a file that another program wrote is not replaced."""
    out = tmp_path / "out"
    assert main(["compare", books[0], books[2], "--out", str(out)]) == 1
    names = {f"one-to-three{end}" for end in (".json", ".pdf", ".html", "-builder.pdf")}
    assert {path.name for path in out.iterdir()} == names
    assert main(["compare", books[0], books[2], "--out", str(out)]) == 1
    (out / "one-to-three.json").write_text("{}", "utf-8")
    assert main(["compare", books[0], books[2], "--out", str(out)]) == 2
    assert "did not write it" in capfd.readouterr().err
    assert main(["compare", books[0], books[2], "--out", str(out), "--overwrite"]) == 1


def test_three_visits_make_a_series(books: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """With three visits the first is held against the last, and tracks follow in time."""
    assert main(["compare", *books, "--json"]) == 1
    told = json.loads(capfd.readouterr().out)
    assert len(told["visits"]) == len(told["sha256"]) == 3
    assert len(told["series"]["years"]) == 3
    assert told["series"]["tilt"]["x"]["trend"]["rate_sd"] > 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["{0}"], "one visit cannot be compared"),
        (["{2}", "{0}"], "earlier visit first"),
        (["{0}", "{1}", "--hold", "p99"], "hold p99"),
        (["{0}", "{1}", "--tolerance", "-1"], "tolerance"),
        (["{0}", "nowhere.json"], "no such file"),
    ],
)
def test_bad_use_is_told(
    books: list[str],
    capfd: pytest.CaptureFixture[str],
    arguments: list[str],
    said: str,
) -> None:
    """Bad use ends with 2 and a line that names place and remedy."""
    assert main(["compare", *(each.format(*books) for each in arguments)]) == 2
    assert said in capfd.readouterr().err


def test_held_stations_are_kept_to(books: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """--hold replaces the search."""
    main(["compare", books[0], books[2], "--json", "--hold", "p1, p5"])
    told = json.loads(capfd.readouterr().out)
    assert told["datum"]["stations"] == ["p1", "p5"]
    assert told["datum"]["how"] == "held as chosen"
