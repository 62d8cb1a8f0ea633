"""Files appear whole or not at all, and never in place of someone else's."""

import json
import os
import stat
from pathlib import Path

import pytest

from levelbook.cli import outputs
from levelbook.errors import UsageError

OURS = json.dumps({"program": "levelbook 0.1.0", "sha256": "0"}).encode()


def test_saves_into_a_folder_it_makes(tmp_path: Path) -> None:
    """Missing folders are made; contents are byte for byte; the order is kept."""
    files = {"b.pdf": b"\x00\x01", "a.csv": b"x\r\n"}
    saved = outputs.save(tmp_path / "deep" / "er", files)
    assert [path.name for path in saved] == ["b.pdf", "a.csv"]
    assert [path.read_bytes() for path in saved] == list(files.values())


def test_nothing_is_left_beside_the_files(tmp_path: Path) -> None:
    """No temporary file stays behind, whether writing succeeded or not."""
    outputs.save(tmp_path, {"a": b"1"})
    (tmp_path / "b").mkdir()
    with pytest.raises(UsageError):
        outputs.save(tmp_path, {"b": b"2"})
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b"]


def test_a_failed_write_leaves_the_former_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When moving into place fails, the former file is untouched and the error names it."""
    (tmp_path / "a").write_bytes(b"former")

    def full(self: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(UsageError, match="no space left on device"):
        outputs.save(tmp_path, {"a": b"new"})
    assert [path.name for path in tmp_path.iterdir()] == ["a"]
    assert (tmp_path / "a").read_bytes() == b"former"


@pytest.mark.skipif(os.name == "nt", reason="POSIX permissions")
def test_files_are_readable_as_the_umask_says(tmp_path: Path) -> None:
    """A saved file has the permissions of any new file, not those of a temporary one."""
    (path,) = outputs.save(tmp_path, {"a": b"1"})
    plain = tmp_path / "plain"
    plain.touch()
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    """A folder that is a file is told as such."""
    (tmp_path / "out").touch()
    with pytest.raises(UsageError, match="choose another folder"):
        outputs.save(tmp_path / "out", {"a": b"1"})


@pytest.mark.parametrize("results", [None, b"", b"[]", b'{"program": "other 1"}', b"\xff"])
def test_foreign_files_are_refused(tmp_path: Path, results: bytes | None) -> None:
    """A file of the same name stops the command unless our own result vouches for it."""
    (tmp_path / "house.pdf").write_bytes(b"theirs")
    if results is not None:
        (tmp_path / "house.json").write_bytes(results)
    with pytest.raises(UsageError, match="--overwrite"):
        outputs.refuse_foreign(tmp_path, ["house.pdf", "house.json"], "house.json")
    assert (tmp_path / "house.pdf").read_bytes() == b"theirs"


def test_own_files_are_replaced(tmp_path: Path) -> None:
    """A former report of ours, and an empty folder, are no reason to stop."""
    outputs.refuse_foreign(tmp_path, ["house.pdf"], "house.json")
    (tmp_path / "house.pdf").write_bytes(b"ours")
    (tmp_path / "house.json").write_bytes(OURS)
    outputs.refuse_foreign(tmp_path, ["house.pdf", "house.json"], "house.json")


def test_json_is_one_line_in_utf8(capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Numbers stand in full, text as it is, and the document on one line."""
    outputs.emit({"a": 0.1 + 0.2, "b": "−é"})
    told = capsysbinary.readouterr().out
    assert told == '{"a": 0.30000000000000004, "b": "−é"}\n'.encode()


def test_json_has_no_nan() -> None:
    """What JSON cannot say is a fault of the program, not written as something else."""
    with pytest.raises(ValueError, match="Out of range"):
        outputs.emit({"a": float("nan")})
