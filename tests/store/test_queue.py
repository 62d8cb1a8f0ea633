"""The queue of writers: in order, one at a time, and not for ever."""

import threading
import time

import pytest
from sqlalchemy.exc import TimeoutError as NoConnectionError
from store_rows import entry

from levelbook.archive.database import Database
from levelbook.archive.queue import Queue
from levelbook.archive.store import Store


def test_first_come_first_served() -> None:
    """Threads go through one at a time, in the order in which they came."""
    queue, order, inside = Queue(20), list[int](), list[int]()

    def go(number: int) -> None:
        with queue.turn():
            inside.append(number)
            assert len(inside) == 1
            order.append(number)
            inside.pop()

    threads = []
    with queue.turn():
        for number in range(12):
            threads.append(threading.Thread(target=go, args=(number,)))
            threads[-1].start()
            while len(queue._waiting) < number + 2:
                time.sleep(0.001)
    for thread in threads:
        thread.join()
    assert order == list(range(12))


def test_nobody_waits_for_ever() -> None:
    """Who waits too long is told so, and does not keep those behind from going on."""
    queue = Queue(0.05)
    with queue.turn(), pytest.raises(NoConnectionError, match="waited too long"), queue.turn():
        pytest.fail("two at once")
    with queue.turn():
        pass
    assert not queue._waiting


def test_many_writers_of_one_file(sqlite_url: str) -> None:
    """Twenty devices that send without a pause all get through, about as often as each other."""
    database, counts = Database(sqlite_url), [0] * 20
    until = time.monotonic() + 1.5

    def send(number: int) -> None:
        store = Store(database)
        while time.monotonic() < until:
            one = entry(counts[number], device=f"device{number:02d}")
            store.sync(f"visit-{number:02d}", 10**9, [one], "t")
            counts[number] += 1

    threads = [threading.Thread(target=send, args=(number,)) for number in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    database.close()
    assert max(counts) - min(counts) <= 2
