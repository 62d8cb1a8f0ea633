"""Reports of several books: where they go, and what a bad book does to the others."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from levelbook.book import read_book
from levelbook.book.model import Photo
from levelbook.cli import batch
from levelbook.cli.inputs import photos
from levelbook.cli.main import main
from levelbook.demo import house
from levelbook.errors import UsageError

ENDINGS = (".pdf", ".html", "-readings.csv", "-levels.csv", ".json")


def small(house_a: bytes, folder: Path, name: str) -> Path:
    """Put the small sample book into a folder under a name."""
    path = folder / f"{name}.json"
    path.write_bytes(house_a)
    return path


def test_one_book_gives_its_files(
    house_a: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A report is written into the folder asked for, and its places are printed."""
    book = small(house_a, tmp_path, "elm")
    assert main(["report", str(book), "--out", str(tmp_path / "out")]) in (0, 1)
    told = capsys.readouterr()
    assert told.err == ""
    assert sorted(told.out.split()) == sorted(str(tmp_path / "out" / f"elm{e}") for e in ENDINGS)
    assert (tmp_path / "out" / "elm.pdf").read_bytes().startswith(b"%PDF-")
    assert json.loads((tmp_path / "out" / "elm.json").read_bytes())["format"] == "levelbook/1"


def test_reports_lie_beside_the_book_unless_told(house_a: bytes, tmp_path: Path) -> None:
    """Without --out a folder beside the book takes the files; running again replaces them."""
    book = small(house_a, tmp_path, "elm")
    first = batch.run(batch.order_each([str(book)], None, (), overwrite=False))[0]
    again = batch.run(batch.order_each([str(book)], None, (), overwrite=False))[0]
    assert {path.parent for path in first.files} == {tmp_path / "reports"}
    assert first.files == again.files
    assert sorted(p.name for p in tmp_path.iterdir()) == ["elm.json", "reports"]


def test_someone_elses_file_is_not_replaced(
    house_a: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file that is there already stops the report, unless the user insists."""
    book = small(house_a, tmp_path, "elm")
    out = tmp_path / "out"
    out.mkdir()
    (out / "elm.html").write_text("mine")
    assert main(["report", str(book), "--out", str(out)]) == 2
    assert "--overwrite" in capsys.readouterr().err
    assert [path.name for path in out.iterdir()] == ["elm.html"]
    assert main(["report", str(book), "--out", str(out), "--overwrite"]) in (0, 1)
    assert (out / "elm.html").read_text() != "mine"


def test_a_bad_book_does_not_stop_the_others(
    house_a: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder with a bad book: the good ones are written, the bad one is named at the end."""
    for name in ("ash", "elm"):
        small(house_a, tmp_path, name)
    (tmp_path / "bad.json").write_text("{")
    assert main(["report", str(tmp_path), "--jobs", "2"]) == 2
    told = capsys.readouterr()
    assert sum(line.endswith(".pdf") for line in told.out.splitlines()) == 2
    assert f"{tmp_path / 'bad.json'}: " in told.err
    assert told.err.splitlines()[-1].endswith(f"no report of: {tmp_path / 'bad.json'}")


def test_outcomes_as_json(
    house_a: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --json the places and the failures are one document."""
    good = small(house_a, tmp_path, "elm")
    bad = tmp_path / "bad.json"
    bad.write_text("[]")
    assert main(["report", str(good), str(bad), "--json", "--out", str(tmp_path / "o")]) == 2
    answer = json.loads(capsys.readouterr().out)
    assert [entry["book"] for entry in answer["reports"]] == [str(good)]
    assert all(Path(place).exists() for place in answer["reports"][0]["files"])
    assert [entry["book"] for entry in answer["failed"]] == [str(bad)]
    assert answer["failed"][0]["faults"]


def test_two_books_of_one_name_are_refused(house_a: bytes, tmp_path: Path) -> None:
    """Two reports that would overwrite each other are refused before any work."""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    books = [str(small(house_a, tmp_path / folder, "elm")) for folder in "ab"]
    with pytest.raises(UsageError, match="would have the name"):
        batch.order_each(books, tmp_path / "out", (), overwrite=False)
    assert len(batch.order_each(books, None, (), overwrite=False)) == 2


@pytest.mark.parametrize("options", [(), ("--overwrite",)])
def test_a_book_is_never_replaced_by_its_report(
    house_a: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str], options: tuple[str, ...]
) -> None:
    """A report into the book's own folder would take the book's name: it is refused, always."""
    book = small(house_a, tmp_path, "elm")
    assert main(["report", str(book), "--out", str(tmp_path), *options]) == 2
    assert "would replace the book" in capsys.readouterr().err
    assert book.read_bytes() == house_a


def test_an_empty_folder_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without books is bad use."""
    assert main(["report", str(tmp_path)]) == 2
    assert "no .json file" in capsys.readouterr().err


def test_the_demo_prints_its_places(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The demo ends well and prints where its PDF and HTML lie."""
    assert main(["demo", "--out", str(tmp_path)]) == 0
    told = dict(line.split(": ", 1) for line in capsys.readouterr().out.splitlines())
    assert told.keys() == {"PDF", "HTML"}
    assert all(Path(place).is_file() for place in told.values())


def test_a_book_on_standard_input_makes_a_report(house_a: bytes, tmp_path: Path) -> None:
    """A book that comes on standard input gets a report in the current folder."""
    done = subprocess.run(
        [sys.executable, "-m", "levelbook", "report", "-"],
        input=house_a,
        cwd=tmp_path,
        capture_output=True,
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    assert (tmp_path / "reports" / "book.pdf").is_file()


def test_photos_are_taken_from_beside_the_book(tmp_path: Path) -> None:
    """A photograph named in the book is found beside it; a name that leads away is not."""
    (tmp_path / "books").mkdir()
    (tmp_path / "books" / "crack.jpg").write_bytes(b"picture")
    (tmp_path / "secret").write_bytes(b"private")
    named = {"a": "crack.jpg", "b": "../secret", "c": "gone.jpg"}
    shots = tuple(Photo(id=i, sha256=i * 64, name=name) for i, name in named.items())
    book = read_book(house()).model_copy(update={"photos": shots})
    assert photos(book, tmp_path / "books") == {"a" * 64: b"picture"}
