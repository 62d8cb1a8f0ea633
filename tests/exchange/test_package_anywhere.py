"""The package is the same bytes in another process, time zone, language, umask and hash order."""

import hashlib
import io
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from levelbook.book import read_book
from levelbook.exchange.package import package
from levelbook.findings import assess

PROGRAM = """
import hashlib, os, sys
os.umask(int(sys.argv[2], 8))
from levelbook.book import read_book
from levelbook.exchange.package import package
from levelbook.findings import assess
made = package(assess(read_book(open(sys.argv[1], "rb").read())))
sys.stdout.write(hashlib.sha256(made).hexdigest())
"""
PLACES = (
    ("0", "UTC", "C.UTF-8", "022"),
    ("1", "Asia/Kolkata", "C", "077"),
    ("4242", "America/St_Johns", "de_DE.UTF-8", "000"),
)


@pytest.mark.slow
def test_another_process_makes_the_same_bytes(tmp_path: Path, house_a: bytes) -> None:
    """Three processes that share nothing but the book agree with this one."""
    book = tmp_path / "book.json"
    book.write_bytes(house_a)
    found = {hashlib.sha256(package(assess(read_book(house_a)))).hexdigest()}
    for seed, zone, language, mask in PLACES:
        there = {"PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": language}
        command = [sys.executable, "-c", PROGRAM, str(book), mask]
        done = subprocess.run(
            command, env={**os.environ, **there}, capture_output=True, check=True, cwd=tmp_path
        )
        found.add(done.stdout.decode())
    assert len(found) == 1


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not here")
def test_its_sums_are_checked_by_the_usual_tool(tmp_path: Path, house_a: bytes) -> None:
    """Unpacked, ``sha256sum -c SHA256SUMS`` finds every file good, and a changed one bad."""
    made = package(assess(read_book(house_a)))
    with zipfile.ZipFile(io.BytesIO(made)) as file:
        file.extractall(tmp_path)
    command = ["sha256sum", "--check", "--strict", "SHA256SUMS"]
    good = subprocess.run(command, cwd=tmp_path, capture_output=True, check=False)
    assert good.returncode == 0, good.stdout
    assert good.stdout.count(b": OK") == sum(p.is_file() for p in tmp_path.rglob("*")) - 1
    with (tmp_path / "tables" / "levels.csv").open("ab") as file:
        file.write(b" ")
    assert subprocess.run(command, cwd=tmp_path, capture_output=True, check=False).returncode == 1
