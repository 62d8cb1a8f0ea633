"""A run: the same rows whoever works, and after any end it goes on without loss or double."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from archives import Counting, books, folder_of, packed, sent, table

from levelbook.archive.database import Database
from levelbook.archive.evaluation.cluster import Cluster
from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.crew import Alone, Processes, halved
from levelbook.archive.evaluation.parquet import FAILURES, MANIFEST, read_manifest
from levelbook.archive.evaluation.plan import Chunk
from levelbook.archive.evaluation.run import Summary, run
from levelbook.archive.evaluation.source import PAGE, DatabaseSource, FolderSource
from levelbook.archive.evaluation.work import Done, Visit, evaluate
from levelbook.errors import UsageError
from levelbook.findings import named_set

SIZE, VISITS = 3, 16


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of books, a bad one among them."""
    folder = folder_of(books(VISITS - 1), tmp_path_factory.mktemp("books"))
    (folder / "v011x.json").write_text("{")
    return folder


@pytest.fixture(scope="module")
def whole(archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an evaluation made in one go, in this process."""
    out = tmp_path_factory.mktemp("out") / "figures"
    found = run(FolderSource(archive), Criteria(), out, Alone(), size=SIZE)
    assert (found.visits, found.rows, found.failed, found.kept) == (VISITS, VISITS - 1, 1, 0)
    assert found.parts > 3
    return out


def same(one: Path, other: Path) -> bool:
    """Tell whether two evaluations have the same rows, bit by bit, and the same failures."""
    failures = [(each / FAILURES).read_bytes() for each in (one, other)]
    return bool(table(one).equals(table(other))) and failures[0] == failures[1]


def test_every_visit_has_one_row_or_one_failure(whole: Path, archive: Path) -> None:
    """Nothing is lost and nothing is doubled."""
    names = table(whole)["visit"].to_pylist()
    assert sorted([*names, "v011x.json"]) == sorted(p.name for p in archive.iterdir())
    manifest = read_manifest(whole)
    assert manifest is not None
    assert manifest["state"] == "finished"
    assert sum(part["rows"] for part in manifest["parts"]) == manifest["rows"] == len(names)


def test_two_processes_make_the_same_rows(whole: Path, archive: Path, tmp_path: Path) -> None:
    """Rows are the same in one process and in two."""
    seen: list[int] = []
    out = tmp_path / "figures"
    run(FolderSource(archive), Criteria(), out, Processes(2), progress=seen.append, size=SIZE)
    assert same(whole, out)
    assert sum(seen) == VISITS


@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_a_cluster_makes_the_same_rows(whole: Path, archive: Path, tmp_path: Path) -> None:
    """Rows are the same on a Dask cluster of two workers, each a process of its own."""
    from distributed import LocalCluster

    out = tmp_path / "figures"
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as local:
        crew = Cluster(local.scheduler_address)
        run(FolderSource(archive), Criteria(), out, crew, size=SIZE)
        crew.close()
    assert same(whole, out)


@pytest.mark.parametrize("most", [0, 2])
def test_an_interrupted_run_goes_on(whole: Path, archive: Path, tmp_path: Path, most: int) -> None:
    """Broken off after some chunks, the same command does the rest and no more."""
    out, first, second = tmp_path / "figures", Counting(most), Counting()
    with pytest.raises(KeyboardInterrupt):
        run(FolderSource(archive), Criteria(), out, first, size=SIZE)
    manifest = read_manifest(out)
    assert manifest is not None
    assert manifest["state"] == "running"
    found = run(FolderSource(archive), Criteria(), out, second, size=SIZE)
    assert (found.kept, second.visits) == (first.visits, VISITS - first.visits)
    assert same(whole, out)


def test_a_killed_run_goes_on(archive: Path, whole: Path, tmp_path: Path) -> None:
    """Killed without warning while two processes work, their command done again is whole."""
    out, code = (
        tmp_path / "figures",
        (
            "import sys; from pathlib import Path\n"
            "from levelbook.archive.evaluation import run, source, crew, columns\n"
            "if __name__ == '__main__':\n"
            "    there = source.FolderSource(Path(sys.argv[1]))\n"
            "    out, two = Path(sys.argv[2]), crew.Processes(2)\n"
            f"    run.run(there, columns.Criteria(), out, two, size={SIZE})\n"
        ),
    )
    script = tmp_path / "script.py"
    script.write_text(code)
    with subprocess.Popen([sys.executable, str(script), str(archive), str(out)]) as process:
        receipts = out / "receipts"
        end = time.monotonic() + 60
        while not list(receipts.glob("*.json")) and time.monotonic() < end:
            time.sleep(0.005)
        workers = _children(process.pid)
        process.send_signal(signal.SIGKILL)
    before = len(list(receipts.glob("*.json")))
    assert before
    crew = Counting()
    found = run(FolderSource(archive), Criteria(), out, crew, size=SIZE)
    assert found.visits == found.kept + crew.visits == VISITS
    assert found.kept
    assert same(whole, out)
    assert not list((out / "parts").glob(".*"))
    while any(map(_alive, workers)) and time.monotonic() < end:
        time.sleep(0.02)
    assert not any(map(_alive, workers)), "workers outlive who started them"


def _children(pid: int) -> list[int]:
    """Return the processes that a process started, where the system tells."""
    told = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(child) for child in told.read_text().split()] if told.exists() else []


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def test_a_damaged_part_is_made_again(whole: Path, archive: Path, tmp_path: Path) -> None:
    """A part that changed on the disk is found and made anew, and the others are kept."""
    out = tmp_path / "figures"
    run(FolderSource(archive), Criteria(), out, Alone(), size=SIZE)
    part = sorted((out / "parts").iterdir())[1]
    part.write_bytes(part.read_bytes()[:-1])
    crew = Counting()
    found = run(FolderSource(archive), Criteria(), out, crew, size=SIZE)
    assert 0 < crew.visits <= 2 * SIZE
    assert found.kept == VISITS - crew.visits
    assert same(whole, out)


def test_only_what_changed_is_made_again(archive: Path, tmp_path: Path) -> None:
    """A visit changed, one added and one gone: few chunks are worked on, and old rows go."""
    some = tmp_path / "books"
    some.mkdir()
    for file in archive.iterdir():
        (some / file.name).write_bytes(file.read_bytes())
    out = tmp_path / "figures"
    run(FolderSource(some), Criteria(), out, Alone(), size=SIZE)
    (some / "v003.json").write_bytes((some / "v004.json").read_bytes())
    (some / "v005.json").unlink()
    crew = Counting()
    run(FolderSource(some), Criteria(), out, crew, size=SIZE)
    assert 0 < crew.visits < VISITS - 1
    rows = {row["visit"]: row["sha256"] for row in table(out).to_pylist()}
    assert len(rows) == VISITS - 2
    assert rows["v003.json"] == rows["v004.json"]


def test_a_folder_keeps_its_chunks(archive: Path, whole: Path) -> None:
    """Given again without a size, as the command does, what is done is found."""
    crew = Counting()
    found = run(FolderSource(archive), Criteria(), whole, crew)
    assert (crew.visits, found.kept) == (0, VISITS)


def test_two_criteria_do_not_mix(whole: Path, archive: Path, tmp_path: Path) -> None:
    """A folder with figures by some criteria takes none by others, and is left as it was."""
    before = {p: p.read_bytes() for p in whole.rglob("*") if p.is_file()}
    other = Criteria((named_set("bre-251"),))
    with pytest.raises(UsageError, match="by other criteria"):
        run(FolderSource(archive), other, whole, Alone(), size=SIZE)
    assert {p: p.read_bytes() for p in whole.rglob("*") if p.is_file()} == before
    out = tmp_path / "other"
    run(FolderSource(archive), other, out, Alone(), size=SIZE)
    assert "bre-251/crack-category" in table(out).column_names
    assert "asce-texas/tilt-1-percent" not in table(out).column_names


def test_a_folder_of_other_things_is_refused(archive: Path, tmp_path: Path) -> None:
    """Figures are never strewn among someone's files."""
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(UsageError, match="other files"):
        run(FolderSource(archive), Criteria(), tmp_path, Alone())
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]
    (tmp_path / MANIFEST).write_text("[]")
    with pytest.raises(UsageError, match="by other criteria"):
        run(FolderSource(archive), Criteria(), tmp_path, Alone())


class Deadly(Visit):
    """A visit that ends the process which takes it in, as running out of memory would."""

    def __reduce__(self) -> tuple[object, ...]:
        """End whoever reads this out of a pickle."""
        return os._exit, (1,)


def test_a_visit_that_ends_its_process_costs_no_other() -> None:
    """The others of its chunk, and chunks in flight beside it, have their rows."""
    some = [packed(book, f"v{k}") for k, book in enumerate(books(3))]
    some[1] = Deadly("v1", "", "document", b"", "")
    cut = [Chunk("a", tuple(some[:2])), Chunk("b", tuple(some[2:]))]
    found = {chunk.key: done for chunk, done in Processes(1).work(cut, Criteria())}
    assert found["b"].rows == evaluate(some[2:], Criteria()).rows
    assert [row["visit"] for row in found["a"].rows] == ["v0"]
    assert [(f.visit, f.code) for f in found["a"].failed] == [("v1", "lost")]


def test_halving_finds_every_deadly_visit() -> None:
    """Whatever visits end their processes, exactly those fail."""
    visits = [Visit(f"v{k}", "", "document", b"", "") for k in range(11)]
    deadly = {"v0", "v7", "v10"}

    def again(some: list[Visit]) -> Done:
        if deadly & {v.id for v in some}:
            return halved(some, again)  # type: ignore[arg-type]
        return Done(tuple({"visit": v.id} for v in some), ())

    found = halved(visits, again)  # type: ignore[arg-type]
    assert {f.visit for f in found.failed} == deadly
    assert [row["visit"] for row in found.rows] == [v.id for v in visits if v.id not in deadly]


def test_chunks_are_taken_only_as_there_is_room() -> None:
    """However large the archive, few chunks are held at once."""
    taken = 0

    def endless() -> Iterator[Chunk]:
        nonlocal taken
        while taken < 60:
            taken += 1
            yield Chunk(f"{taken}", ())

    ahead = [taken - k for k, _ in enumerate(Processes(1).work(endless(), Criteria()))]
    assert len(ahead) == 60
    assert max(ahead) <= 2 + 1


def test_a_database_is_read_by_firm_in_pages(database: Database, tmp_path: Path) -> None:
    """On both databases: one firm's visits alone, all of them, though they fill many pages."""
    some = books(3)
    for k in range(PAGE + 2):
        sent(some[k % 2], f"visit-{k:03}", "acme", database)
    sent(some[2], "visit-000", "other", database)
    source = DatabaseSource(database, "acme")
    visits = list(source.visits())
    assert source.count() == len(visits) == PAGE + 2
    assert len({v.id for v in visits}) == PAGE + 2
    assert {v.firm for v in visits} == {"acme"}
    out = tmp_path / "figures"
    found = run(DatabaseSource(database, "other"), Criteria(), out, Alone())
    assert found == Summary(1, 1, 0, 0, 1)
    (row,) = table(out).to_pylist()
    assert (row["visit"], row["firm"], row["year_built"]) == (
        "visit-000",
        "other",
        some[2].property.year_built,
    )


def test_a_folder_without_books_is_told(tmp_path: Path) -> None:
    """A folder without a book is bad use."""
    with pytest.raises(UsageError, match=r"no \.json file"):
        FolderSource(tmp_path)
