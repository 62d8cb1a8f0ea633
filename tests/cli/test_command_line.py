"""The command line: what is printed where, and with which exit code."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from levelbook.demo import house

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def demo_book(tmp_path: Path) -> Path:
    """Return the demo house's book as a file."""
    path = tmp_path / "house.json"
    path.write_bytes(house())
    return path


@pytest.fixture
def bad_book(tmp_path: Path) -> Path:
    """Return a book with two faults: a station that is not there and a value that is none."""
    document = json.loads(house())
    document["readings"][3]["station"] = "nowhere"
    document["readings"][5]["value"] = "soon"
    path = tmp_path / "bad.json"
    path.write_text(json.dumps(document))
    return path


def process(*arguments: str, **options: object) -> subprocess.CompletedProcess[bytes]:
    """Run the command in a process of its own."""
    command = [sys.executable, "-m", "levelbook", *arguments]
    return subprocess.run(command, capture_output=True, check=False, timeout=120, **options)  # type: ignore[call-overload]


def test_no_arguments_show_the_help_and_are_bad_use(run: Run) -> None:
    """Without a command the help is shown, and the code says that nothing was done."""
    code, out, _ = run()
    assert code == 2
    assert "Usage: levelbook" in out


def test_version(run: Run) -> None:
    """The version is the package's."""
    from levelbook import __version__

    assert run("--version") == (0, f"levelbook {__version__}\n", "")


@pytest.mark.parametrize("command", ["check", "levels", "assess", "report"])
def test_a_missing_file_is_told_in_one_line(run: Run, command: str, tmp_path: Path) -> None:
    """A file that is not there is named with what to do, on standard error."""
    missing = tmp_path / "none.json"
    code, out, err = run(command, missing)
    assert (code, out) == (2, "")
    assert err == f"levelbook: {missing}: there is no such file or folder; check the path\n"


@pytest.mark.parametrize("command", ["check", "levels", "assess"])
def test_a_folder_is_no_book(run: Run, command: str, tmp_path: Path) -> None:
    """A folder given as a book is refused, with JSON where that was asked for."""
    code, out, err = run(command, tmp_path, "--json")
    assert code == 2
    assert json.loads(out)["error"]["faults"][0]["problem"] == "this is a folder"
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize("command", ["check", "levels", "assess", "report"])
def test_every_fault_of_a_book_is_a_line(run: Run, command: str, bad_book: Path) -> None:
    """A book with two faults gives two lines on standard error, each with book and place."""
    code, out, err = run(command, bad_book)
    assert (code, out) == (2, "")
    told = err.splitlines()
    assert len(told) == 2
    assert all(line.startswith(f"levelbook: {bad_book}: readings[") for line in told)


@pytest.mark.parametrize("command", ["levels", "assess", "report"])
def test_faults_as_json(run: Run, command: str, bad_book: Path) -> None:
    """With --json the faults stand on standard output as one document."""
    code, out, _ = run(command, bad_book, "--json")
    assert code == 2
    error = json.loads(out)["error"]
    assert error["book"] == str(bad_book)
    places = [fault["place"] for fault in error["faults"]]
    assert places == ["readings[5].value", "readings[3].station"] or sorted(places) == [
        "readings[3].station",
        "readings[5].value",
    ]
    assert all(fault.keys() == {"code", "place", "problem", "remedy"} for fault in error["faults"])


def test_check_answers_with_faults_and_warnings(run: Run, bad_book: Path, demo_book: Path) -> None:
    """The result of a check has the same two keys, whether the book is good or bad."""
    code, out, _ = run("check", bad_book, "--json")
    answer = json.loads(out)
    assert code == 2
    assert answer.keys() == {"faults", "warnings"}
    assert len(answer["faults"]) == 2
    code, out, _ = run("check", demo_book, "--json")
    answer = json.loads(out)
    assert answer["faults"] == []
    assert code == (1 if answer["warnings"] else 0)


def test_check_warns_of_a_house_without_a_closing_check(run: Run, house_a: bytes) -> None:
    """The small sample house has findings of its own: the code is 1 and each is told."""
    path = Path(__file__).parent.parent / "data" / "house-a.json"
    code, out, _ = run("check", path, "--json")
    warnings = json.loads(out)["warnings"]
    assert code == 1
    assert all(warning.keys() >= {"code", "place", "remedy"} for warning in warnings)
    code, out, _ = run("check", path)
    assert code == 1
    assert out.count("•") == len(warnings)


@pytest.mark.parametrize("command", ["check", "levels", "assess"])
def test_what_a_check_finds_every_later_command_finds(run: Run, command: str) -> None:
    """What makes a 1 grows with the command: a notice alone is enough for each of them."""
    path = Path(__file__).parent.parent / "data" / "house-a.json"
    _, told, _ = run("levels", path, "--json")
    result = json.loads(told)
    assert (result["suspects"], result["fit"]["ok"]) == ([], True)
    assert all(abs(c["misclosure"]) <= c["allowed"] for c in result["closures"])
    assert run(command, path, "--json")[0] == 1


@pytest.mark.parametrize(
    ("closing", "told"),
    [("0.0", "is less than"), ("0.1", "agrees with"), ("0.9", "is more than")],
)
def test_scatter_is_told_by_the_side_it_is_out_on(
    run: Run, tmp_path: Path, closing: str, told: str
) -> None:
    """A check that closes exactly is not said to disagree with the instrument."""
    book = json.loads((Path(__file__).parent.parent / "data" / "house-a.json").read_text())
    pairs = {"r26", "r28", "r30", "r32"}
    book["readings"] = [r for r in book["readings"] if r["id"] not in pairs]
    (last,) = (r for r in book["readings"] if r["id"] == "r34")
    last["value"] = closing
    path = tmp_path / "closing.json"
    path.write_text(json.dumps(book))
    _, out, _ = run("levels", path)
    assert f"their scatter {told}" in " ".join(out.split())


def test_the_way_that_a_floor_falls_has_its_uncertainty(run: Run, demo_book: Path) -> None:
    """A direction is told with ± where the tilt is told from none, and not at all elsewhere."""
    _, out, _ = run("assess", demo_book)
    assert re.search(r"falls toward\s+\d+ ± \d+°", out)
    level = json.loads(house())
    for reading in level["readings"]:
        reading["value"] = "0"
    path = demo_book.with_name("level.json")
    path.write_text(json.dumps(level))
    _, out, _ = run("assess", path)
    assert "no clear fall to one side" in out
    assert not re.search(r"falls\s+toward\s+\d", out)


@pytest.mark.parametrize(
    ("sd", "resolution", "value"),
    [(1e-9, 0, None), (1e6, 0.1, None), (0.05, 1e6, None), (0.05, 0, "0")],
)
def test_an_instrument_at_the_ends_of_what_may_be_stated(
    run: Run, tmp_path: Path, sd: float, resolution: float, value: str | None
) -> None:
    """As good as exact, next to useless, or level to the last digit: all are told of in words."""
    book = json.loads((Path(__file__).parent.parent / "data" / "house-a.json").read_text())
    book["instruments"][0] |= {"sd": sd, "resolution": resolution}
    for reading in book["readings"]:
        reading["value"] = value or reading["value"]
    path = tmp_path / "odd.json"
    path.write_text(json.dumps(book))
    code, out, err = run("assess", path)
    assert (code, err) == (1, "")
    assert "Screening" in out


def test_each_criterion_points_to_its_source(run: Run, demo_book: Path) -> None:
    """The number beside the basis is that of the source in the list below the table."""
    _, out, _ = run("assess", demo_book)
    listed = dict(re.findall(r"• \[(\d+)\] (.{8})", out))
    named = re.findall(r"(published|practice)\s+\[(\d+)\]", out)
    assert named
    assert {number for _, number in named} == set(listed)
    for basis, number in named:
        assert listed[number].startswith("common") == (basis == "practice")


def test_a_book_may_come_on_standard_input() -> None:
    """A dash reads the book from standard input; a fault names it so."""
    done = process("levels", "-", "--json", input=house())
    assert done.returncode in (0, 1)
    assert len(json.loads(done.stdout)["stations"]) == 80
    done = process("levels", "-", input=b"{}")
    assert done.returncode == 2
    assert done.stderr.startswith(b"levelbook: standard input: ")


def test_covariance_needs_json(run: Run, demo_book: Path) -> None:
    """A covariance matrix is not printed as a table."""
    code, out, err = run("levels", demo_book, "--covariance")
    assert (code, out) == (2, "")
    assert "--json" in err


def test_covariance_agrees_with_the_standard_deviations(run: Run, demo_book: Path) -> None:
    """The matrix is square in the stations' order and its diagonal is their variances."""
    _, out, _ = run("levels", demo_book, "--covariance", "--json")
    result = json.loads(out)
    matrix, ids = result["covariance"]["matrix"], result["covariance"]["stations"]
    assert len(matrix) == len(ids) == 80
    for i, name in enumerate(ids):
        assert matrix[i][i] == pytest.approx(result["stations"][name]["sd"] ** 2, abs=1e-12)


def test_levels_prints_every_station(run: Run, demo_book: Path) -> None:
    """The table of levels has a row for each station, with its standard deviation."""
    _, out, _ = run("levels", demo_book)
    rows = [line.split() for line in out.splitlines()]
    assert any(row[:3] == ["c", "0.00", "0.00"] for row in rows)
    assert sum(row[:1] == ["61"] for row in rows) == 1
    assert "Closing checks" in out


def test_the_slipped_point_is_named(run: Run, demo_book: Path) -> None:
    """The demo's decimal slip is the first suspect, with the value that was meant."""
    code, out, _ = run("levels", demo_book, "--json")
    first = json.loads(out)["suspects"][0]
    assert code == 1
    assert (first["station"], first["kind"], first["value"]) == ("53", "decimal", "1")
    assert float(first["suggestion"]) == 0.1


def test_assess_has_all_keys_and_prints_readably(run: Run, demo_book: Path) -> None:
    """The assessment has what the levels have and its own parts; the tables tell them."""
    code, out, err = run("assess", demo_book, "--json")
    result = json.loads(out)
    assert (code, err) == (1, "")
    assert result.keys() >= {"groups", "stations", "suspects", "areas", "sections", "criteria"}
    assert result.keys() >= {"screening", "sha256", "program", "format"}
    code, out, err = run("assess", demo_book)
    assert (code, err) == (1, "")
    for word in ("range", "tilt", "deflection", "Screening", "±", result["screening"]["outcome"]):
        assert word in out


def test_criteria_by_name_and_by_file(run: Run, demo_book: Path, tmp_path: Path) -> None:
    """Sets named on the command line are the ones applied, a user's own file among them."""
    own = tmp_path / "own.toml"
    own.write_text(
        'id = "own"\ntitle = "Own"\nedition = "1"\napplies_when = "always"\nnote = "mine"\n'
        '[[criteria]]\nid = "r"\ntitle = "Range"\nquantity = "range"\nlimit = 0.1\nunit = "in"\n'
        'basis = "common practice"\nsource = "the office"\nkind = "movement"\nnote = "tight"\n'
    )
    names = ("--criteria", own, "--criteria", "asce-texas")
    _, out, err = run("assess", demo_book, "--json", *names)
    assert err == ""
    assert {found["set"] for found in json.loads(out)["criteria"]} == {"own", "asce-texas"}


def test_unknown_criteria_are_refused(run: Run, demo_book: Path) -> None:
    """A set that is neither known nor a file is named, with those that there are."""
    code, out, err = run("assess", demo_book, "--criteria", "nobody")
    assert (code, out) == (2, "")
    assert "nobody" in err
    assert "asce-texas" in err


def test_criteria_lists_sources(run: Run) -> None:
    """Every set is listed with its criteria and a source for each."""
    code, out, _ = run("criteria", "--json")
    sets = json.loads(out)["sets"]
    assert code == 0
    assert all(criterion["source"] for each in sets for criterion in each["criteria"])
    code, out, _ = run("criteria")
    assert code == 0
    assert all(each["id"] in out for each in sets)


def test_schema_is_json(run: Run) -> None:
    """The printed schema is the document's own."""
    from levelbook.book import schema

    code, out, _ = run("schema")
    assert code == 0
    assert json.loads(out) == schema()


@pytest.mark.parametrize(
    "arguments",
    [
        ("levels",),
        ("--bogus",),
        ("nonsense",),
        ("levels", "a", "b"),
        ("report", "--jobs", "x", "a"),
    ],
)
def test_bad_use_is_a_line_and_never_a_trace(run: Run, arguments: tuple[str, ...]) -> None:
    """A wrong command line gives one line that points to the help."""
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert "levelbook --help" in err


@pytest.mark.skipif(os.name == "nt", reason="POSIX pipes")
def test_a_reader_that_goes_away_is_no_fault(demo_book: Path) -> None:
    """A closed pipe ends the command quietly."""
    with subprocess.Popen(
        [sys.executable, "-m", "levelbook", "levels", str(demo_book)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as started:
        assert started.stdout is not None
        assert started.stderr is not None
        started.stdout.close()
        assert started.stderr.read() == b""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_told(demo_book: Path) -> None:
    """Output that cannot be written is an error in words."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "levelbook", "levels", str(demo_book), "--json"],
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr.startswith(b"levelbook: output: no space left")
    assert b"Traceback" not in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="POSIX shell")
@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-"])
def test_closed_streams_are_no_fault(demo_book: Path, closed: str) -> None:
    """A process without one of its standard streams still does its work."""
    command = f'"{sys.executable}" -m levelbook check "{demo_book}" {closed}'
    done = subprocess.run(["sh", "-c", command], capture_output=True, check=False)
    assert done.returncode == 1
    assert b"fault of the program" not in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="POSIX shell")
def test_no_standard_input_is_an_empty_book() -> None:
    """A book asked for on a standard input that is not there is told as empty."""
    command = f'"{sys.executable}" -m levelbook check - <&-'
    done = subprocess.run(["sh", "-c", command], capture_output=True, check=False)
    assert done.returncode == 2
    assert done.stderr.startswith(b"levelbook: standard input: ")


def test_a_fault_of_the_program_is_one_sentence(tmp_path: Path) -> None:
    """What nobody foresaw is told as our own fault, with code 3 and no trace."""
    script = (
        "from levelbook.cli import commands, main\n"
        "import sys\n"
        "def broken(path, data=None): raise ZeroDivisionError('odd')\n"
        "commands.inputs.read = broken\n"
        "sys.argv = ['levelbook', 'check', 'x']\n"
        "main.run()\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=False)
    assert done.returncode == 3
    assert b"fault of the program" in done.stderr
    assert b"Traceback" not in done.stderr
