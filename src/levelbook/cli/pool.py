"""The same work on many things at once, in processes of their own."""

import signal
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import TypeVar

from levelbook.cli.threads import one_thread

T = TypeVar("T")
R = TypeVar("R")
Done = Callable[[int], None]


def each(
    work: Callable[[T], R], items: Sequence[T], workers: int, done: Done
) -> list[R | BaseException]:
    """Return what ``work`` makes of each item, or the error it ended with, in their order.

    ``done`` is called with an item's position when it is finished. A worker that is killed
    takes the pool with it: what was lost is tried once more, each in a process alone.
    """
    found = _pooled(work, dict(enumerate(items)), workers, done)
    for i, item in enumerate(items):
        if isinstance(found[i], BrokenProcessPool):
            found |= _pooled(work, {i: item}, 1, done)
    return [found[i] for i in range(len(items))]


def _pooled(
    work: Callable[[T], R], items: dict[int, T], workers: int, done: Done
) -> dict[int, R | BaseException]:
    """Work on items in fresh processes, which read the thread settings before numpy does."""
    one_thread()
    pool = ProcessPoolExecutor(workers, get_context("spawn"), initializer=_leave_interruption)
    found: dict[int, R | BaseException] = {}
    try:
        futures = {pool.submit(work, item): i for i, item in items.items()}
        for future in as_completed(futures):
            error = future.exception()
            found[futures[future]] = future.result() if error is None else error
            if not isinstance(error, BrokenProcessPool):
                done(futures[future])
    finally:
        pool.shutdown(cancel_futures=True)
    return found


def _leave_interruption() -> None:
    """Leave an interruption from the keyboard to the process that started this one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
