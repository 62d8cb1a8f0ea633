"""The commands seal, verify and keys, and books inside other files wherever a book is asked for."""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]
SMALL = Path(__file__).parent.parent / "data" / "house-a.json"


@pytest.fixture
def run(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Return a function that runs a command with a folder of keys of its own."""
    monkeypatch.setenv("LEVELBOOK_KEYS", str(tmp_path / "keys"))
    monkeypatch.delenv("LEVELBOOK_PASSPHRASE", raising=False)
    return run


@pytest.fixture
def sealed(run: Run, tmp_path: Path) -> Path:
    """Return the sample house sealed with the key ``office``."""
    assert run("keys", "new", "office")[0] == 0
    path = tmp_path / "house.sealed.json"
    assert run("seal", SMALL, "--key", "office", "--out", path)[0] == 0
    return path


def test_keys_are_made_listed_and_shown(run: Run, tmp_path: Path) -> None:
    """A new key is in the list, and shown in full."""
    code, out, _ = run("keys", "new", "office", "--json")
    made = json.loads(out)["keys"][0]
    assert (code, made["name"]) == (0, "office")
    assert run("keys", "show", "office")[1].strip() == made["key"]
    assert made["fingerprint"] in run("keys", "list")[1]
    assert run("keys", "list", "--keys", tmp_path / "none") == (0, "", "")
    code, _, err = run("keys", "new", "office")
    assert code == 2
    assert "choose another name" in err


def test_seal_beside_the_book(run: Run, tmp_path: Path) -> None:
    """Without --out the sealed book lies beside the book, and is not replaced unasked."""
    book = tmp_path / "house.json"
    book.write_bytes(SMALL.read_bytes())
    run("keys", "new", "office")
    code, out, _ = run("seal", book, "--key", "office", "--json")
    told = json.loads(out)
    assert code == 0
    assert told["file"] == str(tmp_path / "house.sealed.json")
    assert told["fingerprint"].replace(" ", "") == told["seal"]["digest"][:24]
    code, _, err = run("seal", book, "--key", "office")
    assert code == 2
    assert "--out" in err
    assert run("seal", book, "--key", "office", "--overwrite")[0] == 0


def test_verify_says_what_is_proved(run: Run, sealed: Path) -> None:
    """A sealed book is proved, by its own key, by name and by digits."""
    code, out, _ = run("verify", sealed)
    assert code == 0
    assert "Proved" in out
    assert "kept here as office" in out
    assert "clock" in out
    assert run("verify", sealed, "--key", "office")[0] == 0
    digits = run("keys", "show", "office")[1].strip()
    assert run("verify", sealed, "--key", digits)[0] == 0
    code, out, _ = run("verify", sealed, "--json")
    assert json.loads(out)["proved"] is True


def test_verify_says_what_is_not(run: Run, sealed: Path) -> None:
    """A changed book, another key and a plain book are not proved, each with its reason."""
    run("keys", "new", "other")
    code, out, _ = run("verify", sealed, "--key", "other", "--json")
    assert (code, json.loads(out)["why"]) == (1, ["other key"])
    changed = sealed.with_name("changed.json")
    changed.write_text(sealed.read_text("utf-8").replace('"2026-03-02"', '"2026-03-03"'), "utf-8")
    code, out, _ = run("verify", changed)
    assert code == 1
    assert "Not proved" in out
    assert "What this proves" not in out
    code, out, _ = run("verify", SMALL, "--json")
    assert (code, json.loads(out)["why"]) == (1, ["not sealed"])


@pytest.mark.parametrize("arguments", [("none.json",), (SMALL, "--key", "nobody")])
def test_unusable_is_code_two(run: Run, arguments: tuple[object, ...]) -> None:
    """A file or key that is not there is bad use, not a verdict."""
    code, out, err = run("verify", *arguments)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1


def test_a_sealed_book_is_a_book(run: Run, sealed: Path) -> None:
    """Commands take a sealed book and answer as for the book itself."""
    for command in ("check", "levels", "assess"):
        assert run(command, sealed, "--json") == run(command, SMALL, "--json")


def test_a_broken_seal_is_refused_everywhere(run: Run, sealed: Path) -> None:
    """No figure is computed from a record that is not the one that was sealed."""
    text = sealed.read_text("utf-8").replace('"2026-03-02"', '"2026-03-03"')
    sealed.write_text(text, "utf-8")
    for command in ("check", "levels", "assess", "report"):
        code, out, err = run(command, sealed)
        assert (code, out) == (2, "")
        assert "levelbook verify" in err


def test_sealing_twice_is_refused(run: Run, sealed: Path) -> None:
    """A sealed record keeps the seal it has."""
    code, _, err = run("seal", sealed, "--key", "office")
    assert code == 2
    assert "sealed already" in err


def test_a_bundle_is_a_book(run: Run, sealed: Path, tmp_path: Path) -> None:
    """A ZIP archive with record and seal is opened, verified and computed from."""
    holder = json.loads(sealed.read_text("utf-8"))
    path = tmp_path / "house.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("house/level-book.json", json.dumps(holder["book"]))
        archive.writestr("house/seal.json", json.dumps(holder["seal"]))
    code, out, _ = run("verify", path, "--json")
    assert (code, json.loads(out)["source"]) == (0, "bundle")
    assert run("levels", path, "--json") == run("levels", SMALL, "--json")


def test_a_report_is_a_book(run: Run, sealed: Path, tmp_path: Path) -> None:
    """The report of a sealed book is verified, computed from, and reported again with its seal."""
    run("report", sealed, "--out", tmp_path / "one")
    pdf = tmp_path / "one" / "house.sealed.pdf"
    code, out, _ = run("verify", pdf, "--key", "office")
    assert code == 0
    assert "What the pages print" in out
    assert run("levels", pdf, "--json") == run("levels", SMALL, "--json")
    run("report", pdf, "--out", tmp_path / "two")
    assert (tmp_path / "two" / pdf.name).read_bytes() == pdf.read_bytes()


def test_a_comparison_tells_of_both_seals(run: Run, sealed: Path, tmp_path: Path) -> None:
    """Both records and their seals lie in a comparison's report; one without a seal is told."""
    later = json.loads(SMALL.read_text("utf-8"))
    later["visit"]["date"] = "2026-12-02"
    book = tmp_path / "later.json"
    book.write_text(json.dumps(later), "utf-8")
    assert run("seal", book, "--key", "office")[0] == 0
    out = tmp_path / "out"
    assert run("compare", sealed, tmp_path / "later.sealed.json", "--out", out)[0] == 0
    pdf = out / "house.sealed-to-later.sealed.pdf"
    code, told, _ = run("verify", pdf, "--key", "office")
    assert code == 0
    assert told.count("Proved: unchanged since it was sealed") == 2
    assert told.index("earlier visit") < told.index("later visit")
    code, told, _ = run("verify", out / "house.sealed-to-later.sealed-builder.pdf", "--json")
    assert (code, json.loads(told)["proved"]) == (0, True)
    both = json.loads(told)["visits"]
    assert [each["source"] for each in both] == ["report", "report"]
    assert both[0]["sha256"] != both[1]["sha256"]
    assert run("compare", sealed, book, "--out", tmp_path / "half")[0] == 0
    code, told, _ = run("verify", tmp_path / "half" / "house.sealed-to-later.pdf", "--json")
    assert (code, json.loads(told)["proved"]) == (1, False)
    assert [each["why"] for each in json.loads(told)["visits"]] == [[], ["not sealed"]]


def test_a_report_is_not_replaced_by_its_own(run: Run, sealed: Path) -> None:
    """A report made from a report cannot take its place."""
    pdf = sealed.with_name("house.pdf")
    pdf.write_bytes(sealed.read_bytes())
    code, _, err = run("report", pdf, "--out", pdf.parent, "--overwrite")
    assert code == 2
    assert "replace the book" in err
    assert pdf.read_bytes() == sealed.read_bytes()


def test_a_passphrase_comes_from_the_setting(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A protected key seals with its passphrase and not without."""
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert run("keys", "new", "safe", "--passphrase")[0] == 2
    monkeypatch.setenv("LEVELBOOK_PASSPHRASE", "three plain words")
    assert run("keys", "new", "safe", "--passphrase")[0] == 0
    out = tmp_path / "sealed.json"
    assert run("seal", SMALL, "--key", "safe", "--out", out)[0] == 0
    monkeypatch.setenv("LEVELBOOK_PASSPHRASE", "other words")
    code, _, err = run("seal", SMALL, "--key", "safe", "--out", out, "--overwrite")
    assert code == 2
    assert "passphrase is wrong" in err
    monkeypatch.delenv("LEVELBOOK_PASSPHRASE")
    code, _, err = run("seal", SMALL, "--key", "safe", "--out", out, "--overwrite")
    assert code == 2
    assert "LEVELBOOK_PASSPHRASE" in err
