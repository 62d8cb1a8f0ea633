"""A hybrid logical clock: wall time that never runs backwards and never ties.

Written as ``<16-digit milliseconds>-<4 hex digits>-<device>``, so that clocks compare as
strings. Source: Kulkarni, Demirbas, Madappa, Avva & Leone 2014, *Logical Physical Clocks*.
"""

import re
from dataclasses import dataclass

from levelbook.errors import UsageError

_WRITTEN = re.compile(r"([0-9]{16})-([0-9a-f]{4})-([a-z0-9]{8,32})")


@dataclass(frozen=True, slots=True, order=True)
class Clock:
    """One moment of one device: milliseconds since 1970, a counter, the device."""

    milliseconds: int
    counter: int
    device: str

    def __str__(self) -> str:
        return f"{self.milliseconds:016d}-{self.counter:04x}-{self.device}"


def read_clock(text: str) -> Clock:
    """Return the clock written in ``text``.

    Raises
    ------
    UsageError
        If the text is not a clock.
    """
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise UsageError("clock", f"{text[:60]!r} is not a clock", "update the app on the device")
    return Clock(int(match[1]), int(match[2], 16), match[3])


def tick(last: Clock, now: int, *seen: Clock) -> Clock:
    """Return the next clock of ``last``'s device, later than ``last`` and all ``seen``.

    ``now`` is the device's wall time in milliseconds; where it lags, the counter goes on.
    """
    latest = max((last, *seen), key=lambda c: (c.milliseconds, c.counter))
    if now > latest.milliseconds:
        return Clock(now, 0, last.device)
    if latest.counter < 0xFFFF:
        return Clock(latest.milliseconds, latest.counter + 1, last.device)
    return Clock(latest.milliseconds + 1, 0, last.device)
