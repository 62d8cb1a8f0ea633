"""A Dask cluster as the crew: chunks go to its workers, rows come back here.

Workers need this program and nothing else: neither the database nor the folder.
"""

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import CancelledError
from typing import TYPE_CHECKING, Any

from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.crew import AHEAD, Finished, halved
from levelbook.archive.evaluation.parquet import AGAIN
from levelbook.archive.evaluation.plan import Chunk
from levelbook.archive.evaluation.work import Done, Visit, evaluate, program
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from distributed import Client

PATIENCE = 10
"""Seconds within which a scheduler has to answer."""
KEPT_MESSAGES = 10
"""Messages that the connection remembers for those who look for its faults.

The library's own 1,000 hold a chunk each, so that memory would grow for 1,000 chunks.
"""


class Cluster:
    """Works on the workers of a Dask scheduler; ``close`` leaves it, its workers stay."""

    def __init__(self, address: str) -> None:
        self._client = _connected(address)
        self.close = self._client.close

    def work(self, chunks: Iterable[Chunk], criteria: Criteria) -> Iterator[Finished]:
        """Yield each chunk as it is finished; what a worker's death loses is sent again.

        Raises
        ------
        UsageError
            If the scheduler goes away.
        """
        waiting: dict[Any, Chunk] = {}
        try:
            yield from self._in_flight(iter(chunks), criteria, waiting)
        except (OSError, CancelledError):
            raise UsageError("--cluster", "the scheduler went away", AGAIN) from None
        finally:
            self._client.cancel(list(waiting))

    def _in_flight(
        self, chunks: Iterator[Chunk], criteria: Criteria, waiting: dict[Any, Chunk]
    ) -> Iterator[Finished]:
        from distributed import wait

        while True:
            room = AHEAD * max(1, sum(self._client.nthreads().values()))
            while len(waiting) < room and (chunk := next(chunks, None)) is not None:
                waiting[self._send(chunk.visits, criteria)] = chunk
            if not waiting:
                return
            with self._client.as_current():
                finished = wait(list(waiting), return_when="FIRST_COMPLETED").done
            for future in finished:
                chunk = waiting.pop(future)
                yield chunk, self._answer(future, chunk.visits, criteria)

    def _send(self, visits: Sequence[Visit], criteria: Criteria) -> Any:  # noqa: ANN401 (untyped)
        return self._client.submit(evaluate, visits, criteria, pure=False, retries=1)

    def _answer(self, future: Any, visits: Sequence[Visit], criteria: Criteria) -> Done:  # noqa: ANN401
        """Return what became of visits; where every worker that took them died, by halves."""
        from distributed import KilledWorker

        try:
            done: Done = future.result()
        except KilledWorker:

            def again(some: Sequence[Visit]) -> Done:
                return self._answer(self._send(some, criteria), some, criteria)

            return halved(visits, again)
        return done


def _connected(address: str) -> "Client":
    """Return a client of the scheduler at an address, its workers of our own version.

    Raises
    ------
    UsageError
        If the library is not there, nobody answers, or a worker runs another program.
    """
    try:
        import dask.config
        from distributed import Client
    except ModuleNotFoundError:
        problem = "the library for clusters is not installed"
        raise UsageError("--cluster", problem, 'install "levelbook[cluster]"') from None
    try:
        with dask.config.set({"distributed.admin.low-level-log-length": KEPT_MESSAGES}):
            client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        problem = f"no scheduler answers at {address[:80]} ({type(error).__name__})"
        remedy = "start one with: dask scheduler, and give its address, such as tcp://host:8786"
        raise UsageError("--cluster", problem, remedy) from None
    _check_workers(client)
    return client


def _check_workers(client: "Client") -> None:
    """Leave a cluster without workers, or with one that runs another program."""
    told = client.run(program, on_error="return")
    others = sorted({str(each) for each in told.values()} - {program()})
    if told and not others:
        return
    client.close()
    if not told:
        problem, remedy = "the cluster has no worker", "start some with: dask worker ADDRESS"
    else:
        problem = f"a worker of the cluster has not {program()}: {others[0][:200]}"
        remedy = "install the same version on every machine of the cluster"
    raise UsageError("--cluster", problem, remedy)
