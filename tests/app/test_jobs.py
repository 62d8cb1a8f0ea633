"""Long work in the background: told as it goes on, limited for each firm, never forgotten early."""

import logging
import threading

import pytest

from levelbook.app import jobs
from levelbook.app.jobs import Jobs
from levelbook.errors import TooManyError, UsageError

PATIENCE = 20.0


@pytest.fixture
def work():
    """Give workers that end with the test."""
    made = Jobs()
    yield made
    made.close()


def over(work: Jobs, firm: str, name: str):
    """Wait until a job is over and return it."""
    done = threading.Event()
    for _ in range(int(PATIENCE / 0.005)):
        job = work.get(firm, name)
        if job is not None and job.state in ("done", "failed"):
            return job
        done.wait(0.005)
    raise AssertionError(job)


def test_steps_are_told_and_failures_too(work, caplog) -> None:
    """A job is done with its steps; one that cannot be done tells why in words."""
    good = work.start("ash", (("one", lambda: None), ("two", lambda: None)))
    told = over(work, "ash", good.id)
    assert (told.state, told.done, told.of) == ("done", 2, 2)

    def refuse() -> None:
        raise UsageError("here", "this is wrong", "mend it")

    bad = over(work, "ash", work.start("ash", (("one", refuse),)).id)
    assert bad.state == "failed"
    assert "this is wrong" in bad.problem
    assert "mend it" in bad.problem
    assert work.get("birch", good.id) is None
    assert not caplog.records


def test_a_fault_of_the_program_is_logged(work, caplog) -> None:
    """What stops a job without a word for the user is told to the operator, without its text."""
    logged = threading.Event()
    caplog.handler.addFilter(lambda _: logged.set() or True)
    with caplog.at_level(logging.ERROR, "levelbook.jobs"):
        job = work.start("ash", (("one", lambda: 1 // 0),))
        assert over(work, "ash", job.id).problem == "a fault of the program"
        assert logged.wait(PATIENCE)
    told = caplog.records[0].told["error"]
    assert told[0] == "builtins.ZeroDivisionError"
    assert "division" not in "".join(told)


def test_one_firm_cannot_line_up_for_ever(work) -> None:
    """More than some jobs of a firm must wait with their asking; another firm's are taken."""
    go = threading.Event()
    first = [work.start("ash", (("wait", lambda: go.wait(PATIENCE)),)) for _ in range(jobs.AT_ONCE)]
    with pytest.raises(TooManyError) as refused:
        work.start("ash", (("one", lambda: None),))
    assert refused.value.wait > 0
    other = work.start("birch", (("one", lambda: None),))
    go.set()
    assert over(work, "birch", other.id).state == "done"
    assert over(work, "ash", first[-1].id).state == "done"
    assert over(work, "ash", work.start("ash", (("one", lambda: None),)).id).state == "done"


def test_what_waits_is_not_forgotten(work, monkeypatch) -> None:
    """However many jobs there are, one that waits or runs is found; finished ones go first."""
    monkeypatch.setattr(jobs, "MOST", 3)
    done = [work.start("ash", (("one", lambda: None),)) for _ in range(5)]
    over(work, "ash", done[-1].id)
    assert [work.get("ash", job.id) is not None for job in done] == [False, False, True, True, True]
    go = threading.Event()
    held = [work.start("ash", (("wait", lambda: go.wait(PATIENCE)),)) for _ in range(6)]
    assert all(work.get("ash", job.id) is not None for job in held)
    go.set()
    assert over(work, "ash", held[-1].id).state == "done"
    assert work.states() == {"done": 3}
