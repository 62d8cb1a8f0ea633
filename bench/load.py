"""Many devices at one server at once: errors, loss, times of answer, memory.

Run as ``python bench/load.py [minutes]``: 200 devices send 60 readings each, one sending a
reading, to one real server process over HTTP, on PostgreSQL and on SQLite, first paced and
then all at once; then devices go on for ``minutes`` (1 unless told; memory is asked for over
30) while the server's memory is looked at. Afterwards everything sent is fetched again and
counted. Client and server share this machine; the share of each is told.
"""

import asyncio
import os
import statistics
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import load_server
from load_client import Device, Served

DEVICES, READINGS = 200, 60
PACES = (2.0, 0.0)
"""Seconds between two readings of a device; 0: the next as soon as the last is answered.

Two is five times as much as quick surveyors would send.
"""
LOOK_S = 5.0


@dataclass
class Told:
    """What one run measured."""

    times: list[float] = field(default_factory=list)
    errors: int = 0
    lost: int = 0
    seconds: float = 0.0
    server_share: float = 0.0
    client_share: float = 0.0


async def work(served: Served, readings: int, pace: float) -> Told:
    """Let every device send its readings; then fetch all and count what is missing."""
    devices = [Device(served, number) for number in range(DEVICES)]
    for few in range(0, DEVICES, 10):
        await asyncio.gather(*(device.begin() for device in devices[few : few + 10]))
    before, own, begun = served.cpu_seconds(), time.process_time(), time.perf_counter()
    await asyncio.gather(*(device.work(readings, pace) for device in devices))
    seconds = time.perf_counter() - begun
    told = Told(
        [t for device in devices for t in device.times],
        sum(device.errors for device in devices),
        seconds=seconds,
        server_share=(served.cpu_seconds() - before) / seconds,
        client_share=(time.process_time() - own) / seconds,
    )
    for device in devices:
        told.lost += await device.missing()
        device.close()
    return told


async def remember(served: Served, minutes: float) -> list[tuple[float, float]]:
    """Let devices work for some minutes; return (minute, MB) of the server's memory.

    What the server refused for the time being, as on a machine with too much to do, is
    printed by its status; such entries were not acknowledged and do not count as lost.
    """
    begun, seen, refused = time.perf_counter(), list[tuple[float, float]](), Counter[str]()
    end = begun + 60 * minutes

    async def someone(number: int) -> None:
        await asyncio.sleep(number * 2.0 / DEVICES)
        while time.perf_counter() < end:
            device = Device(served, number)
            await device.begin()
            await device.work(READINGS, 2.0, until=end)
            if lost := await device.missing():
                raise SystemExit(f"{lost} entries were lost while memory was measured")
            refused.update(device.refused)
            device.close()

    async def look() -> None:
        while time.perf_counter() < end:
            seen.append(((time.perf_counter() - begun) / 60, served.memory_mb()))
            await asyncio.sleep(LOOK_S)

    await asyncio.gather(look(), *(someone(number) for number in range(DEVICES)))
    for status, times in sorted(refused.items()):
        print(f"refused {times} times: {status}")
    return seen


@contextmanager
def databases() -> Iterator[Sequence[tuple[str, str]]]:
    """Give the databases to measure on: name and address; PostgreSQL as careful as it is."""
    import temporary_postgres

    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="levelbook-load-")))
        server = stack.enter_context(temporary_postgres.own())
        yield (
            ("PostgreSQL", load_server.new_database(server)),
            ("SQLite", f"sqlite:///{folder / 'levelbook.sqlite'}"),
        )


def row(name: str, pace: float, told: Told) -> str:
    """Return a line of the table."""
    cut = statistics.quantiles(told.times, n=100)
    paced = f"one each {pace:g} s" if pace else "burst"
    return (
        f"{name:<11} {paced:<13} {len(told.times):>6} {told.errors:>6} {told.lost:>5} "
        f"{1000 * cut[49]:>7.0f} {1000 * cut[94]:>7.0f} {1000 * max(told.times):>7.0f} "
        f"{len(told.times) / told.seconds:>8.0f} {told.server_share:>7.2f} "
        f"{told.client_share:>7.2f}"
    )


HEAD = (
    f"{'database':<11} {'pace':<13} {'sent':>6} {'errors':>6} {'lost':>5} {'p50 ms':>7} "
    f"{'p95 ms':>7} {'max ms':>7} {'sent/s':>8} {'server':>7} {'client':>7}"
)


def memory_line(name: str, seen: Sequence[tuple[float, float]]) -> str:
    """Return what happened to the memory, the first fifth of the time left out."""
    late = [(minute, mb) for minute, mb in seen if minute > seen[-1][0] / 5] or list(seen)
    slope = 0.0
    if len(late) > 2:
        slope = statistics.linear_regression([m for m, _ in late], [mb for _, mb in late]).slope
    (first, mb), (last, now) = late[0], late[-1]
    return (
        f"{name}: memory {mb:.0f} MB after {first:.1f} min, {now:.0f} MB after {last:.1f} min, "
        f"most {max(mb for _, mb in seen):.0f} MB; {slope:+.2f} MB a minute"
    )


def main(minutes: float = 1.0, paces: Sequence[float] = PACES) -> int:
    """Measure everything and print it; 1 if anything failed or was lost."""
    print(f"{DEVICES} devices, {READINGS} readings each; shares are processors of {os.cpu_count()}")
    print(HEAD)
    bad, remembered = 0, []
    with databases() as found:
        for name, url in found:
            for pace in paces:
                with load_server.serve(url) as served:
                    told = asyncio.run(work(served, READINGS, pace))
                print(row(name, pace, told), flush=True)
                bad += told.errors + told.lost
            if minutes:
                with load_server.serve(url) as served:
                    remembered.append((name, asyncio.run(remember(served, minutes))))
    for name, seen in remembered:
        print(memory_line(name, seen))
    if minutes and minutes < 30:
        print(f"Memory was looked at over {minutes:g} min; 30 are asked for: load.py 30")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main(*map(float, sys.argv[1:2])))
