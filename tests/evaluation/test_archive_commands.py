"""The commands ``archive assess`` and ``archive figures`` as they are typed."""

import builtins
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from archives import books, folder_of, sent, table

from levelbook.archive.database import Database
from levelbook.archive.evaluation import cluster
from levelbook.archive.evaluation import run as running
from levelbook.archive.evaluation.run import Summary
from levelbook.archive.tables import FIRMS
from levelbook.book import write_book
from levelbook.cli.main import main


@pytest.fixture(scope="module")
def evaluated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with ``books`` and, by the command, ``out``."""
    base = tmp_path_factory.mktemp("commands")
    folder_of(books(14), base / "books")
    assert assess(base / "books", base / "out") == 0
    return base


def assess(*where: object, options: tuple[str, ...] = ()) -> int:
    """Run ``archive assess`` in this process; the last of ``where`` is the folder to write."""
    *given, out = map(str, where)
    return main(["archive", "assess", *given, "--out", out, "--workers", "1", *options])


def test_what_was_done_is_told(evaluated: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Given again, the command does nothing twice and says so; with --json as one document."""
    assert assess(evaluated / "books", evaluated / "out") == 0
    told = capsys.readouterr().out
    assert told.startswith("14 visits, 14 of them with figures (14 done before): ")
    assert assess(evaluated / "books", evaluated / "out", options=("--json",)) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["visits"], answer["rows"], answer["failed"], answer["kept"]) == (14, 14, 0, 14)


def test_a_bad_book_is_listed_and_ends_with_1(
    evaluated: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The others have their figures; where it is told why is named."""
    shutil.copytree(evaluated / "books", tmp_path / "books")
    (tmp_path / "books" / "zz.json").write_text("{")
    assert assess(tmp_path / "books", tmp_path / "out") == 1
    assert "visits without figures: 1; why is told in " in capsys.readouterr().err
    (failure,) = json.loads((tmp_path / "out" / "failures.json").read_text())["failures"]
    assert (failure["visit"], failure["code"]) == ("zz.json", "not-json")
    assert failure["place"]
    assert failure["remedy"]


def test_no_houses_are_told_plainly(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where no visit has figures that is said, with what to do, and no table is printed."""
    (tmp_path / "books").mkdir()
    (tmp_path / "books" / "zz.json").write_text("{")
    assert assess(tmp_path / "books", tmp_path / "out") == 1
    assert capsys.readouterr().out.startswith("1 visit, 0 of them with figures")
    assert main(["archive", "figures", str(tmp_path / "out")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "There is no house to tell figures of." in told
    assert "failures.json" in told
    assert "Tilt" not in told
    assert "a quarter below" not in told


def test_named_criteria_go_to_a_folder_of_their_own(
    evaluated: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Other criteria are refused where figures lie, and taken elsewhere."""
    options = ("--criteria", "asce-texas")
    assert assess(evaluated / "books", evaluated / "out", options=options) == 2
    assert "by other criteria" in capsys.readouterr().err
    assert assess(evaluated / "books", tmp_path / "texas", options=options) == 0
    assert "garage/eighth-per-foot" not in table(tmp_path / "texas").column_names


def test_a_firms_database(
    database: Database,
    database_url: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """On both databases: the only firm by itself, one of several by its id, no other's visits."""
    with database.use("acme") as connection:
        connection.execute(sa.insert(FIRMS).values(id="acme", name="A", created="2026"))
    sent(books(1)[0], "visit-1", "acme", database)
    url = ("--database", database_url)
    assert assess(tmp_path / "one", options=url) == 0
    with database.use("beta") as connection:
        connection.execute(sa.insert(FIRMS).values(id="beta", name="B", created="2026"))
    assert assess(tmp_path / "two", options=url) == 2
    assert "give one of: acme, beta" in capsys.readouterr().err
    assert assess(tmp_path / "two", options=(*url, "--firm", "beta")) == 0
    assert table(tmp_path / "one")["firm"].to_pylist() == ["acme"]
    assert list((tmp_path / "two" / "parts").iterdir()) == []


def test_a_store_on_this_machine(
    tmp_path: Path, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The store of the app is found by --data, where it usually lies, or by its address."""
    store = Path(sqlite_url.removeprefix("sqlite:///"))
    opened = Database(sqlite_url)
    sent(books(1)[0], "visit-1", "local", opened)
    opened.close()
    assert assess(tmp_path / "one", options=("--data", str(store.parent))) == 0
    monkeypatch.setenv("LEVELBOOK_DATA", str(store.parent))
    assert assess(tmp_path / "two") == 0
    monkeypatch.delenv("LEVELBOOK_DATA")
    monkeypatch.setenv("LEVELBOOK_DATABASE", sqlite_url)
    assert assess(tmp_path / "three") == 0
    assert table(tmp_path / "one").equals(table(tmp_path / "two"))
    assert table(tmp_path / "one").equals(table(tmp_path / "three"))


def test_what_is_named_goes_before_the_environment(
    evaluated: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder of books is taken although the environment names a database."""
    monkeypatch.setenv("LEVELBOOK_DATABASE", "postgresql://x@127.0.0.1:1/x")
    assert assess(evaluated / "books", tmp_path / "out") == 0
    assert table(tmp_path / "out").num_rows == 14


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--data", "nowhere"), "there is no store here"),
        (("nowhere",), "no .json file"),
        (("books", "--data", "x"), "exclude each other"),
        (("books", "--firm", "x"), "give --database too"),
        (("--database", "mysql://x"), "no address of a database"),
        (("--database", "postgresql://x@127.0.0.1:1/x"), "does not answer"),
        (("books", "--criteria", "nonsense"), "neither a set of criteria nor a file"),
        (("books", "--cluster", "tcp://127.0.0.1:1"), "no scheduler answers"),
        (("books", "--cluster", "x", "--workers", "2"), "leave it out with --cluster"),
        (("books", "--out", "books"), "other files"),
    ],
)
def test_bad_use_is_told(
    evaluated: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    options: tuple[str, ...],
    told: str,
) -> None:
    """Every wrong way ends with 2, says what is wrong, and leaves no folder behind."""
    monkeypatch.setattr(cluster, "PATIENCE", 0.3)
    monkeypatch.chdir(evaluated)
    out = tmp_path / "out"
    assert main(["archive", "assess", "--out", str(out), *options]) == 2
    assert told in capsys.readouterr().err
    assert not out.exists()


def test_a_missing_library_for_clusters_is_named(
    evaluated: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Without the extra, the command says what to install."""
    import_ = builtins.__import__

    def without(name: str, *rest: Any, **more: Any) -> Any:
        if name == "distributed":
            raise ModuleNotFoundError(name)
        return import_(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    given = ["archive", "assess", str(evaluated / "books"), "--out", str(tmp_path / "out")]
    assert main([*given, "--cluster", "tcp://127.0.0.1:1"]) == 2
    assert "levelbook[cluster]" in capsys.readouterr().err


def test_an_interruption_says_how_to_go_on(
    evaluated: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Ctrl+C ends with 130 and one line."""

    def interrupted(*_: object, **__: object) -> Summary:
        raise KeyboardInterrupt

    monkeypatch.setattr(running, "run", interrupted)
    assert assess(evaluated / "books", tmp_path / "out") == 130
    assert "the same command goes on" in capsys.readouterr().err


def test_a_full_disk_is_told(
    evaluated: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What the system refuses is told as such, with a remedy."""

    def full(*_: object, **__: object) -> Summary:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(running, "run", full)
    assert assess(evaluated / "books", tmp_path / "out") == 2
    assert "no space left on device; free some space" in capsys.readouterr().err


@pytest.mark.parametrize("by", ["year-built", "foundation", "purpose", "firm", "all"])
def test_figures_are_printed_with_intervals(
    evaluated: Path, capsys: pytest.CaptureFixture[str], by: str
) -> None:
    """Tables for range, tilt and deflection ratio, with their caution."""
    assert main(["archive", "figures", str(evaluated / "out"), "--by", by]) == 0
    told = " ".join(capsys.readouterr().out.split())
    for title in ("Highest less lowest, in", "Tilt, percent", "Deflection ratio, length over"):
        assert title in told
    assert "no sample of all houses" in told


def test_a_house_is_placed(
    evaluated: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A book is placed among the other houses, in sentences and as a document."""
    book = tmp_path / "mine.json"
    book.write_text(write_book(books(15)[14]), "utf-8")
    given = ["archive", "figures", str(evaluated / "out"), "--house", str(book)]
    assert main(given) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "% of the" in told
    assert "with 95 % confidence between" in told
    assert main([*given, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["by"] == "all"
    assert {p["quantity"] for p in answer["house"]["placed"]} >= {"range", "tilt"}


def test_figures_of_another_version_place_nobody(
    evaluated: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Figures by another version are not compared with those of this one."""
    out = tmp_path / "out"
    shutil.copytree(evaluated / "out", out)
    manifest = json.loads((out / "manifest.json").read_text())
    (out / "manifest.json").write_text(json.dumps(manifest | {"program": "levelbook 0.0.1"}))
    book = str(evaluated / "books" / "v000.json")
    assert main(["archive", "figures", str(out), "--house", book]) == 2
    assert "by levelbook 0.0.1" in capsys.readouterr().err
    assert main(["archive", "figures", str(out)]) == 0


def test_figures_of_nothing_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without an evaluation is bad use."""
    assert main(["archive", "figures", str(tmp_path)]) == 2
    assert "levelbook archive assess" in capsys.readouterr().err
