"""Work in several processes: order, errors, and workers that are killed."""

import os
import signal
from pathlib import Path

import pytest

from levelbook.cli import pool, threads


def halve(number: int) -> int:
    """Return half of an even number."""
    if number % 2:
        raise ValueError(f"{number} is odd")
    return number // 2


def threads_here(_: int) -> str | None:
    """Return how many threads this process may take."""
    return os.environ.get("OMP_NUM_THREADS")


def die_once(flag: str) -> str:
    """End this process at once, the first time; then return."""
    if not Path(flag).exists():
        Path(flag).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return "alive"


def die(flag: str) -> str:
    """End this process at once, always, unless told otherwise."""
    if flag != "live":
        os.kill(os.getpid(), signal.SIGKILL)
    return "alive"


def test_results_and_errors_keep_their_order() -> None:
    """Each item gets its own result or its own error, in the order given."""
    done: list[int] = []
    found = pool.each(halve, [4, 3, 8, 10], 2, done.append)
    assert found[0] == 2
    assert isinstance(found[1], ValueError)
    assert found[2:] == [4, 5]
    assert sorted(done) == [0, 1, 2, 3]


def test_workers_take_one_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    """Workers see the thread setting before they could import numpy."""
    monkeypatch.setenv("OMP_NUM_THREADS", "")
    monkeypatch.delenv("OMP_NUM_THREADS")
    assert pool.each(threads_here, [0], 1, lambda _: None) == ["1"]


def test_a_setting_of_the_user_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who has set a number of threads keeps it."""
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    threads.one_thread()
    assert os.environ["OMP_NUM_THREADS"] == "3"


@pytest.mark.skipif(os.name == "nt", reason="POSIX signals")
def test_a_killed_worker_is_tried_again(tmp_path: Path) -> None:
    """Work lost with a killed process is done by another one."""
    assert pool.each(die_once, [str(tmp_path / "flag")], 1, lambda _: None) == ["alive"]


@pytest.mark.skipif(os.name == "nt", reason="POSIX signals")
def test_a_worker_that_always_dies_does_not_take_the_others() -> None:
    """One item that kills its process leaves the others their results."""
    found = pool.each(die, ["x", "live", "live"], 2, lambda _: None)
    assert isinstance(found[0], pool.BrokenProcessPool)
    assert found[1:] == ["alive", "alive"]
