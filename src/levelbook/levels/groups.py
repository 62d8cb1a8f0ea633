"""Groups of stations that the readings connect, each with its zero and reference finish."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from levelbook.book.model import Reference
from levelbook.levels.estimability import Estimability
from levelbook.levels.model import Group
from levelbook.levels.observations import Indices, Observations


@dataclass(frozen=True)
class Groups:
    """The groups of one book, (g,) arrays in the groups' order.

    ``reading`` (n,) and ``station`` (m,) give the position of the group of each reading and
    station, ``zero`` and ``finish`` those of the zero and the reference finish, ``origin``
    the first reading at the zero.
    """

    groups: tuple[Group, ...]
    reading: Indices
    station: Indices
    zero: Indices
    finish: Indices
    origin: Indices


def find_groups(observations: Observations, can: Estimability, reference: Reference) -> Groups:
    """Return the groups: stations whose difference in level the readings can tell.

    The reference's group comes first, the others in the order of their first reading. A
    group's zero is the reference station, or the first one read. Its finish is the one of
    the first reading at the zero; in the reference's group it is the one that the book
    names, if it was read there at all.
    """
    at_reference = np.array([r.station == reference.station for r in observations.readings])
    reading = _labels(observations, can, at_reference)
    station = np.zeros(len(observations.stations), dtype=np.intp)
    station[observations.station] = reading
    origin = np.unique(reading, return_index=True)[1]
    finish = observations.finish[origin]
    if at_reference.any():
        origin[0] = at_reference.argmax()
        finish[0] = _reference_finish(observations, reference, reading == 0, origin[0])
    zero = observations.station[origin]
    groups = tuple(
        Group(
            id=f"g{g + 1}",
            zero=observations.stations[zero[g]],
            finish=observations.finishes[finish[g]],
            stations=tuple(observations.stations[i] for i in np.flatnonzero(station == g)),
        )
        for g in range(len(origin))
    )
    return Groups(groups, reading, station, zero, finish, origin)


def _labels(
    observations: Observations, can: Estimability, at_reference: NDArray[np.bool_]
) -> Indices:
    """Return the position of each reading's group (n,): equal remainders, one group."""
    code = observations.finish * len(observations.setups) + observations.setup
    channel, of_reading = np.unique(code, return_inverse=True)
    remainder = can.channel(*np.divmod(channel, len(observations.setups)))
    of_channel = np.unique(remainder, axis=0, return_inverse=True)[1]
    label = of_channel[of_reading]
    first = np.unique(label, return_index=True)[1]
    first[label[at_reference]] = -1
    position = np.empty_like(first)
    position[np.argsort(first)] = np.arange(len(first))
    return np.asarray(position[label], dtype=np.intp)


def _reference_finish(
    observations: Observations, reference: Reference, members: NDArray[np.bool_], origin: int
) -> int:
    if reference.finish in observations.finishes:
        named = observations.finishes.index(reference.finish)
        if (observations.finish[members] == named).any():
            return named
    return int(observations.finish[origin])
