"""The commands import and export."""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from levelbook.book import canonical, read_book

Run = Callable[..., tuple[int, str, str]]
TABLE = "station,x (ft),y (ft),reading (in),finish\n1,0,0,0.5,tile\n2,5,0,-0.3,tile\n3,5,5,x,oak\n"
ANSWERS = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "outline": "rectangle"}


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """Return a table as a file."""
    path = tmp_path / "floor.csv"
    path.write_text(TABLE, "utf-8")
    return path


@pytest.fixture
def book(tmp_path: Path, house_a: bytes) -> Path:
    """Return the sample house's book as a file."""
    path = tmp_path / "house.json"
    path.write_bytes(house_a)
    return path


def test_questions_are_told_and_nothing_is_written(run: Run, table: Path) -> None:
    """Without answers each question is one line with its key; the exit code is 2."""
    code, out, err = run("import", table)
    assert code == 2
    assert {key for key in ANSWERS if f"--answer {key}=" in err} == set(ANSWERS)
    assert len(err.splitlines()) == len(ANSWERS)
    assert "row 4" in out
    assert not table.with_suffix(".json").exists()


def test_answered_the_book_is_written(run: Run, table: Path) -> None:
    """With answers the book lies beside the table, and what was left is told."""
    answers = [part for key, said in ANSWERS.items() for part in ("--answer", f"{key}={said}")]
    code, out, err = run("import", table, *answers)
    made = table.with_suffix(".json")
    assert (code, err) == (0, "")
    assert out.splitlines()[-1] == str(made)
    assert len(read_book(made.read_bytes()).readings) == 2
    assert run("import", table, *answers)[0] == 2
    assert run("import", table, *answers, "--overwrite")[0] == 0


def test_answers_from_a_file_as_json(run: Run, table: Path, tmp_path: Path) -> None:
    """A file of answers, the result as one document."""
    answers = tmp_path / "answers.json"
    answers.write_text(json.dumps(ANSWERS), "utf-8")
    target = tmp_path / "made.json"
    code, out, _ = run("import", table, "--answers", answers, "--out", target, "--json")
    told = json.loads(out)
    assert code == 0
    assert told["file"] == str(target)
    assert told["questions"] == []
    assert told["left"][0]["place"].endswith("row 4")
    assert [c["role"] for c in told["columns"]] == ["station", "x", "y", "value", "finish"]


@pytest.mark.parametrize("answer", ["sense", "sense=up", "other=1"])
def test_bad_answers_are_one_line(run: Run, table: Path, answer: str) -> None:
    """A misspelt answer is told, and nothing written."""
    everything = [p for k, v in ANSWERS.items() for p in ("--answer", f"{k}={v}")]
    code, _, err = run("import", table, *everything, "--answer", answer)
    assert code == 2
    assert len(err.splitlines()) == 1
    assert not table.with_suffix(".json").exists()


def test_asked_on_a_terminal(run: Run, table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A person is asked one thing after the other, and may keep what is usual."""
    said = iter(["2026-03-02", "sideways", "more", "", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    prompts: list[str] = []

    def prompt(text: str, default: str | None = None) -> str:
        prompts.append(text)
        return next(said) or str(default)

    monkeypatch.setattr("typer.prompt", prompt)
    code, _, _ = run("import", table)
    assert code == 0
    assert len(prompts) == 5
    made = read_book(table.with_suffix(".json").read_bytes())
    assert made.instruments[0].sd == 0.05
    assert made.visit.date == "2026-03-02"


def test_every_format_is_written(run: Run, book: Path, tmp_path: Path) -> None:
    """One command writes what is asked for, by plain names."""
    formats = ("package", "book", "xlsx", "csv", "dxf", "geojson", "landxml", "svg", "png")
    chosen = [part for name in formats for part in ("--format", name)]
    folder = tmp_path / "out"
    code, out, _ = run("export", book, *chosen, "--out", folder, "--dpi", 50, "--json")
    assert code == 0
    names = {Path(path).name for path in json.loads(out)["files"]}
    assert names == {
        "house-package.zip", "house.json", "house.xlsx", "house-readings.csv",
        "house-levels.csv", "house.dxf",
        "house.geojson", "house-landxml.xml", "house-levels.svg", "house-levels.png",
    }  # fmt: skip
    assert all((folder / name).stat().st_size > 500 for name in names)


def test_the_package_is_usual_and_opens(run: Run, book: Path, house_a: bytes) -> None:
    """Without a format it is the package; every command takes it for a book."""
    assert run("export", book)[0] == 0
    made = book.with_name("house-package.zip")
    assert "report.pdf" in zipfile.ZipFile(io.BytesIO(made.read_bytes())).namelist()
    back = book.with_name("back.json")
    assert run("import", made, "--out", back)[0] == 0
    assert canonical(read_book(back.read_bytes())) == canonical(read_book(house_a))
    assert run("export", book)[0] == 2


@pytest.mark.parametrize(
    "arguments", [("--dpi", "5", "--format", "png"), ("--format", "docx"), ("--drawing", "roof")]
)
def test_bad_options_are_told(run: Run, book: Path, arguments: tuple[str, ...]) -> None:
    """What cannot be made is one line, and nothing is written."""
    before = sorted(book.parent.iterdir())
    code, _, err = run("export", book, *arguments)
    assert code == 2
    assert err
    assert sorted(book.parent.iterdir()) == before


def test_an_outline_goes_into_a_book(run: Run, book: Path, tmp_path: Path) -> None:
    """Our own GeoJSON of a book, put back into it."""
    assert run("export", book, "--format", "geojson")[0] == 0
    target = tmp_path / "made.json"
    code, out, _ = run("import", book.with_suffix(".geojson"), "--into", book, "--out", target)
    assert code == 0
    assert "outline of 'house'" in out
    assert run("check", target)[0] in (0, 1)


def test_readings_go_into_the_empty_book_of_a_repeat_visit(
    run: Run, book: Path, tmp_path: Path
) -> None:
    """What ``again`` made takes a table of readings; a first station with a name is no title."""
    assert run("again", book, "--date", "2026-11-20")[0] == 0
    empty, target = tmp_path / "house-2026-11-20.json", tmp_path / "later.json"
    table = tmp_path / "readings.csv"
    first = [r for r in json.loads(book.read_bytes())["readings"] if not r.get("struck")]
    rows = [f"{r['station']},{r['value']},{r['finish']},{r['setup']}" for r in first]
    rows.sort(key=lambda row: row.split(",")[0].isdigit())
    assert not rows[0][0].isdigit()
    table.write_text("\n".join(["station,reading (in),finish,setup", *rows]) + "\n", "utf-8")
    code, out, err = run(
        "import", table, "--into", empty, "--answer", "instrument=L1", "--out", target
    )
    assert code == 0, err
    assert f"{len(rows)} readings" in out
    taken = read_book(target.read_bytes()).readings
    assert [r.station for r in taken] == [row.split(",")[0] for row in rows]
