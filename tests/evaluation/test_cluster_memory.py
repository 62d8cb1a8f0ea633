"""What a command that hands chunks to a cluster holds on to."""

import os
import tracemalloc
from collections.abc import Iterator

import pytest

from levelbook.archive.evaluation.cluster import Cluster
from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.plan import Chunk
from levelbook.archive.evaluation.work import pack

KB = 1000
CHUNK = 400 * KB
EARLY, CHUNKS = 20, 80


def unreadable() -> Iterator[Chunk]:
    """Yield chunks of one visit each that is no book: much to send, nothing to work out."""
    for number in range(CHUNKS):
        yield Chunk(str(number), (pack(f"v{number}", "", "document", os.urandom(CHUNK)),))


@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_what_was_sent_to_a_cluster_is_let_go() -> None:
    """Between the twentieth chunk and the eightieth the command's memory stays the same."""
    import dask.config
    from distributed import LocalCluster

    held: list[int] = []
    with (
        dask.config.set({"distributed.admin.low-level-log-length": 10}),  # as the page advises
        LocalCluster(
            n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None
        ) as local,
        dask.config.set({"distributed.admin.low-level-log-length": 1000}),
    ):
        crew = Cluster(local.scheduler_address)
        tracemalloc.start()
        try:
            for _, done in crew.work(unreadable(), Criteria()):
                assert len(done.failed) == 1
                held.append(tracemalloc.get_traced_memory()[0])
        finally:
            tracemalloc.stop()
            crew.close()
    assert len(held) == CHUNKS
    assert max(held[-10:]) - min(held[EARLY - 10 : EARLY]) < 10 * CHUNK
