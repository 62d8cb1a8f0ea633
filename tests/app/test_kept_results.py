"""Results that are kept: made once, whoever asks; none is lost to a race, none stays for ever."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from levelbook.app.desk import Kept

PATIENCE = 20.0


def test_whoever_asks_meanwhile_waits_for_the_same() -> None:
    """Of eight who ask at once one makes the result, and all get it; other keys do not wait."""
    kept, begun, go = Kept(), threading.Event(), threading.Event()
    made: list[int] = []

    def make() -> object:
        made.append(1)
        begun.set()
        assert go.wait(PATIENCE)
        return object()

    with ThreadPoolExecutor(8) as pool:
        asked = [pool.submit(kept.get, ("slow",), make) for _ in range(8)]
        assert begun.wait(PATIENCE)
        assert kept.get(("quick",), lambda: 7) == 7
        go.set()
        found = {id(each.result()) for each in asked}
    assert (len(made), len(found)) == (1, 1)


def test_a_result_that_fails_leaves_nothing() -> None:
    """A thousand that cannot be made take no memory, and can be tried again."""
    kept = Kept()

    def fail() -> None:
        raise ZeroDivisionError

    for number in range(1000):
        with pytest.raises(ZeroDivisionError):
            kept.get(("bad", number), fail)
    assert not kept._making
    assert kept.get(("bad", 1), lambda: "good") == "good"


def test_who_waited_for_one_that_failed_makes_it() -> None:
    """A failure is told to who met it; who waited tries again."""
    kept, begun, go = Kept(), threading.Event(), threading.Event()

    def fail() -> str:
        begun.set()
        assert go.wait(PATIENCE)
        raise ZeroDivisionError

    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(kept.get, ("key",), fail)
        assert begun.wait(PATIENCE)
        second = pool.submit(kept.get, ("key",), lambda: "made")
        go.set()
        assert isinstance(first.exception(PATIENCE), ZeroDivisionError)
        assert second.result(PATIENCE) == "made"
    assert not kept._making


def test_the_last_few_are_kept() -> None:
    """More than there is room for push out those that were not asked for the longest."""
    kept = Kept(most=3)
    for key in "abc":
        kept.get((key,), lambda key=key: key)
    kept.get(("a",), lambda: pytest.fail("it is kept"))
    kept.get(("d",), lambda: "d")
    assert [key for (key,) in kept._made] == ["c", "a", "d"]


def test_large_files_do_not_add_up() -> None:
    """Files are kept up to their bytes in all; the last one is kept however large it is."""
    kept = Kept(heaviest=1000)
    for number in range(10):
        kept.get((number,), lambda: {".pdf": b"x" * 200, ".html": b"y" * 100})
    assert [key for (key,) in kept._made] == [7, 8, 9]
    kept.get(("large",), lambda: b"z" * 5000)
    assert [key for (key,) in kept._made] == ["large"]
    kept.get(("none",), lambda: {"levels": [1, 2, 3]})
    assert [key for (key,) in kept._made] == ["none"]


def test_many_keys_pushed_out_while_they_are_asked_for() -> None:
    """Where many ask for more keys than are kept, each gets its own result, and none an error."""
    kept, go = Kept(most=2), threading.Barrier(8)

    def ask(hand: int) -> bool:
        go.wait(PATIENCE)
        keys = [(hand * 7 + n) % 5 for n in range(2000)]
        return all(
            kept.get((key,), lambda key=key: f"result {key}") == f"result {key}" for key in keys
        )

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(ask, range(8)))
    assert len(kept._made) == 2
    assert not kept._making
