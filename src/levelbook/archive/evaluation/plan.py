"""Visits cut into chunks that a run can skip when it has done them before.

A chunk ends after a visit whose id says so by its own digest, not after a fixed count, so
that a visit added in the middle changes its own chunk and leaves the others as they were. A
chunk's key is a digest of the whole run's settings and of everything that goes into it: the
same key means the same rows.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from levelbook.archive.evaluation.columns import FORMAT, Criteria
from levelbook.archive.evaluation.work import Visit, program

SIZES = ((5_000, 200), (500, 40), (0, 8))
"""Visits to a chunk, about, by the least number of visits: none of the workers shall idle."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some visits, and the key that their rows are kept under."""

    key: str
    visits: tuple[Visit, ...]


def run_key(criteria: Criteria) -> str:
    """Return a digest of what all rows of a run hang on beside their visit."""
    return _digest([FORMAT, program(), criteria.digest])


def size_for(visits: int) -> int:
    """Return how many visits a chunk of an archive of this size has, about."""
    return next(size for least, size in SIZES if visits >= least)


def chunks(visits: Iterable[Visit], run: str, size: int) -> Iterator[Chunk]:
    """Yield visits in chunks of about ``size``, from half of it to twice as many.

    ``run`` is the :func:`run_key`.
    """
    held: list[Visit] = []
    for visit in visits:
        held.append(visit)
        if _ends(visit.id, len(held), size):
            yield _chunk(held, run)
            held = []
    if held:
        yield _chunk(held, run)


def _ends(visit: str, count: int, size: int) -> bool:
    """Tell whether a chunk of ``count`` visits ends with this one."""
    half = max(1, size // 2)
    mark = int.from_bytes(hashlib.sha256(visit.encode()).digest()[:8])
    return count >= half and (mark % half == 0 or count >= 2 * size)


def _chunk(visits: list[Visit], run: str) -> Chunk:
    parts = [part for v in visits for part in (v.id, v.firm, v.form, v.digest)]
    return Chunk(_digest([run, *parts]), tuple(visits))


def _digest(parts: Iterable[str]) -> str:
    """Return a digest of texts, each with its length so that none runs into the next."""
    found = hashlib.sha256()
    for part in parts:
        data = part.encode()
        found.update(len(data).to_bytes(8) + data)
    return found.hexdigest()
