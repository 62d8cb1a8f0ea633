"""Who works on the chunks: this process, or several of this machine.

A crew takes a few chunks at a time, so that memory does not grow with the archive. A chunk
that takes its process down is tried again alone, then in halves, until the visit that does it
is found; that one fails and the others have their rows.
"""

import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from typing import Protocol

from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.plan import Chunk
from levelbook.archive.evaluation.work import Done, Visit, evaluate, failed
from levelbook.errors import Fault

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
AHEAD = 2
"""Chunks in flight for each worker: one being worked on, one waiting."""

Finished = tuple[Chunk, Done]


class Crew(Protocol):
    """Works on chunks; what is finished comes in any order."""

    def work(self, chunks: Iterable[Chunk], criteria: Criteria) -> Iterator[Finished]:
        """Yield each chunk with what became of it, taking chunks only as there is room."""


class Alone:
    """Works in this process."""

    def work(self, chunks: Iterable[Chunk], criteria: Criteria) -> Iterator[Finished]:
        """Yield each chunk in its order."""
        for chunk in chunks:
            yield chunk, evaluate(chunk.visits, criteria)


class Processes:
    """Works in processes of this machine, each with one thread for linear algebra."""

    def __init__(self, workers: int) -> None:
        self._workers = workers

    def work(self, chunks: Iterable[Chunk], criteria: Criteria) -> Iterator[Finished]:
        """Yield each chunk as it is finished; those a dying process lost are tried alone."""
        for variable in THREADS:  # read by numpy in the new processes
            os.environ.setdefault(variable, "1")
        coming, lost = iter(chunks), list[Chunk]()
        while True:
            pool = _pool(self._workers)
            try:
                yield from _in_flight(pool, coming, (criteria, self._workers), lost)
            finally:
                pool.shutdown(cancel_futures=True)
            if not lost:
                return
            for chunk in lost:
                yield chunk, _tried_again(chunk.visits, criteria)
            lost.clear()


def _pool(workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, get_context("spawn"), initializer=_begin)


def _begin() -> None:
    """End at an interruption, and when the process that started this one does."""
    signal.signal(signal.SIGINT, lambda *_: os._exit(1))
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.join,), daemon=True).start()


def _end_with(ended: Callable[[], object]) -> None:
    ended()
    os._exit(1)


def _in_flight(
    pool: ProcessPoolExecutor,
    chunks: Iterator[Chunk],
    how: tuple[Criteria, int],
    lost: list[Chunk],
) -> Iterator[Finished]:
    """Yield chunks as they are finished until there are none or a process dies.

    Those that were in flight then are put into ``lost``.
    """
    criteria, workers = how
    waiting: dict[Future[Done], Chunk] = {}
    while not lost:
        while len(waiting) < AHEAD * workers and (chunk := next(chunks, None)) is not None:
            waiting[pool.submit(evaluate, chunk.visits, criteria)] = chunk
        if not waiting:
            return
        for future in wait(waiting, return_when=FIRST_COMPLETED).done:
            chunk = waiting.pop(future)
            if isinstance(future.exception(), BrokenProcessPool):
                lost.append(chunk)
            else:
                yield chunk, future.result()
    for future, chunk in waiting.items():
        if isinstance(future.exception(), BrokenProcessPool):
            lost.append(chunk)
        else:
            yield chunk, future.result()


def _tried_again(visits: Sequence[Visit], criteria: Criteria) -> Done:
    """Return what becomes of visits in a process of their own, by halves where it dies."""
    with _pool(1) as pool:
        future = pool.submit(evaluate, visits, criteria)
        error = future.exception()
    if not isinstance(error, BrokenProcessPool):
        return future.result()
    return halved(visits, lambda some: _tried_again(some, criteria))


def halved(visits: Sequence[Visit], again: Callable[[Sequence[Visit]], Done]) -> Done:
    """Return what becomes of the halves of some visits; a single one has failed."""
    if len(visits) == 1:
        problem = "the process that worked on it ended suddenly"
        fault = Fault("lost", "book", problem, "see that there is memory to spare")
        return Done((), (failed(visits[0].id, (fault,)),))
    middle = len(visits) // 2
    first, second = again(visits[:middle]), again(visits[middle:])
    return Done(first.rows + second.rows, first.failed + second.failed)
