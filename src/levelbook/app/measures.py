"""Counts and times of the server, in the text form that Prometheus reads (version 0.0.4).

Names and labels come from the program alone: route templates, methods, statuses. Nothing that
a user wrote can become one.
"""

import threading
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping

BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
"""Upper bounds of the classes of times, in seconds."""

Labels = tuple[tuple[str, str], ...]
Gauge = Callable[[], Mapping[Labels, float]]


class Measures:
    """Counters, times and gauges by name; safe for threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._told: dict[str, tuple[str, str]] = {}
        self._counts: dict[str, dict[Labels, float]] = {}
        self._times: dict[str, dict[Labels, list[float]]] = {}
        self._gauges: dict[str, Gauge] = {}

    def counter(self, name: str, told: str) -> None:
        """Name a counter and what it counts."""
        self._told[name], self._counts[name] = ("counter", told), {}

    def times(self, name: str, told: str) -> None:
        """Name a histogram of seconds and what takes them."""
        self._told[name], self._times[name] = ("histogram", told), {}

    def gauge(self, name: str, told: str, look: Gauge) -> None:
        """Name a figure that is looked up when it is asked for."""
        self._told[name], self._gauges[name] = ("gauge", told), look

    def count(self, name: str, by: float = 1, **labels: str) -> None:
        """Add to a counter."""
        key = tuple(sorted(labels.items()))
        with self._lock:
            self._counts[name][key] = self._counts[name].get(key, 0.0) + by

    def time(self, name: str, seconds: float, **labels: str) -> None:
        """Add a time to a histogram."""
        key = tuple(sorted(labels.items()))
        with self._lock:
            row = self._times[name].setdefault(key, [0.0] * (len(BUCKETS) + 2))
            row[bisect_left(BUCKETS, seconds)] += 1
            row[-1] += seconds

    def text(self) -> str:
        """Return everything as text."""
        gauges = {name: dict(look()) for name, look in self._gauges.items()}
        with self._lock:
            lines = [line for name in self._told for line in self._lines(name, gauges)]
        return "\n".join(lines) + "\n"

    def _lines(self, name: str, gauges: Mapping[str, Mapping[Labels, float]]) -> Iterator[str]:
        kind, told = self._told[name]
        yield f"# HELP {name} {told}"
        yield f"# TYPE {name} {kind}"
        for labels, row in sorted(self._times.get(name, {}).items()):
            yield from _histogram(name, labels, row)
        plain = gauges[name] if name in gauges else self._counts.get(name, {})
        for labels, value in sorted(plain.items()):
            yield f"{name}{_labels(labels)} {value:g}"


def _histogram(name: str, labels: Labels, row: list[float]) -> Iterator[str]:
    so_far = 0.0
    for bound, number in zip((*map(str, BUCKETS), "+Inf"), row, strict=False):
        so_far += number
        yield f"{name}_bucket{_labels((*labels, ('le', bound)))} {so_far:g}"
    yield f"{name}_sum{_labels(labels)} {row[-1]:.6f}"
    yield f"{name}_count{_labels(labels)} {so_far:g}"


def _labels(labels: Labels) -> str:
    """Return labels in braces, with backslash, quote and line break escaped."""
    if not labels:
        return ""
    escaped = (
        f'{name}="{value}"'
        for name, value in (
            (n, v.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n")) for n, v in labels
        )
    )
    return "{" + ",".join(escaped) + "}"
