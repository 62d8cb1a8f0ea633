"""Long work in the background, with its progress; results are fetched when it is done."""

import logging
import threading
import uuid
from collections import Counter, OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Literal

from levelbook.app.logs import fault_lines
from levelbook.errors import LevelbookError, TooManyError

LOG = logging.getLogger("levelbook.jobs")
MOST = 200
"""Jobs kept; what waits or runs is kept whatever their number."""
AT_ONCE = 20
"""Jobs of one firm that wait or run; more must wait with their asking."""
SOON = 10
"""Seconds after which it is worth asking again."""
Steps = tuple[tuple[str, Callable[[], object]], ...]


@dataclass(frozen=True, slots=True)
class Job:
    """A piece of work: its state, how many steps are done of how many, and what went wrong."""

    id: str
    state: Literal["waiting", "running", "done", "failed"]
    done: int
    of: int
    step: str = ""
    problem: str = ""


class Jobs:
    """A few workers and the last jobs."""

    def __init__(self, workers: int = 1) -> None:
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="report")
        self._lock = threading.Lock()
        self._jobs: OrderedDict[tuple[str, str], Job] = OrderedDict()

    def start(self, firm: str, steps: Steps) -> Job:
        """Start work of named steps for a firm and return its job.

        Raises
        ------
        TooManyError
            If as many of the firm's as may be wait or run.
        """
        job = Job(uuid.uuid4().hex, "waiting", 0, len(steps))
        with self._lock:
            going = sum(1 for (of, _), j in self._jobs.items() if of == firm and not _over(j))
            if going >= AT_ONCE:
                problem = f"{going} reports of your firm are being made already"
                raise TooManyError("report", SOON, problem)
            self._jobs[firm, job.id] = job
        self._pool.submit(self._run, firm, job, steps).add_done_callback(_tell)
        return job

    def get(self, firm: str, name: str) -> Job | None:
        """Return a job of a firm by id."""
        with self._lock:
            return self._jobs.get((firm, name))

    def states(self) -> dict[str, int]:
        """Return how many of the last jobs are in each state."""
        with self._lock:
            return dict(Counter(job.state for job in self._jobs.values()))

    def close(self) -> None:
        """Finish what runs and take no more."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _run(self, firm: str, job: Job, steps: Steps) -> None:
        """Run the steps; whatever stops them early leaves the job failed."""
        last = replace(job, state="failed", problem="a fault of the program")
        try:
            for k, (name, work) in enumerate(steps):
                job = replace(job, state="running", done=k, step=name)
                self._keep(firm, job)
                work()
            last = replace(job, state="done", done=len(steps), step="")
        except LevelbookError as error:
            last = replace(job, state="failed", problem=str(error))
        finally:
            self._keep(firm, last)

    def _keep(self, firm: str, job: Job) -> None:
        with self._lock:
            self._jobs[firm, job.id] = job
            self._jobs.move_to_end((firm, job.id))
            over = [key for key, each in self._jobs.items() if _over(each)]
            for key in over[: max(len(self._jobs) - MOST, 0)]:
                del self._jobs[key]


def _over(job: Job) -> bool:
    return job.state in ("done", "failed")


def _tell(done: Future[None]) -> None:
    """Log what stopped a job, if it was a fault of the program."""
    error = None if done.cancelled() else done.exception()
    if error is not None:
        LOG.error("job failed", extra={"told": {"error": fault_lines(error)}})
