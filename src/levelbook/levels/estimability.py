"""Which differences the readings can tell: the graph of what connects what.

A *channel* is a finish read by a setup. Its readings carry the sum ``height + constant``
above the station's level, so that two stations can be compared when the difference of their
channels' sums is known. The picture: channels are dots; a station read through two channels
is a *tie*, a line between two dots. Dots that lines connect can be compared. More is known,
though, because the sums add up: where a tie tells oak from tile within one setup, it tells
them apart in every other setup as well, and a tie between two setups on one finish holds for
all finishes. A connected picture is thus enough but not needed, and the exact question is
one of linear algebra: is ``e_finish + e_setup - e_finish' - e_setup'`` a combination of the
ties? It is when both channels leave the same remainder on elimination by the ties.

A drift never enters: a setup has one only if a repeated reading tells it by itself.

The elimination is exact. It runs in the integers modulo the prime ``2³¹ - 1``. A tie has at
most four entries of ±1, so by Hadamard's bound a minor of rank ``r`` is at most ``2ʳ``: up to
30 independent ties no minor can vanish by the modulus, and beyond that one would have to be
a multiple of the prime by chance.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from levelbook.levels.observations import Indices, Observations

PRIME = 2**31 - 1
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class Estimability:
    """What the ties between ``k`` finishes and setups (finishes first) can tell.

    ``determined`` (k,) marks the unknowns that follow from the ties once the others, the
    datum, are held at 0; ``remainder`` (k, d) is what the ties leave of each unknown, in
    terms of those ``d`` others. Combinations with equal remainders differ by something
    that the readings can tell.
    """

    finishes: int
    determined: NDArray[np.bool_]
    remainder: Integers

    def channel(self, finish: Indices, setup: Indices) -> Integers:
        """Return the remainders (m, d) of channels given by finish and setup positions."""
        both = self.remainder[finish] + self.remainder[self.finishes + setup]
        return np.asarray(both % PRIME)


def estimability(observations: Observations) -> Estimability:
    """Return what the readings' ties can tell; see the module for the reasoning."""
    finishes = len(observations.finishes)
    count = finishes + len(observations.setups)
    rows, pivots = _eliminate(_ties(observations), finishes, count)
    determined = np.zeros(count, dtype=bool)
    determined[pivots] = True
    remainder = np.eye(count, dtype=np.int64)
    remainder[pivots] = -rows % PRIME
    return Estimability(finishes, determined, remainder[:, ~determined])


def _ties(observations: Observations) -> Integers:
    """Return distinct ties (m, 4): finish and setup of one channel, then of the other."""
    channel = np.column_stack([observations.finish, observations.setup])
    first = channel[np.unique(observations.station, return_index=True)[1]][observations.station]
    ties = np.column_stack([channel, first])[(channel != first).any(axis=1)]
    return np.unique(ties, axis=0).astype(np.int64)


def _eliminate(ties: Integers, finishes: int, count: int) -> tuple[Integers, list[int]]:
    """Reduce the ties to echelon rows modulo the prime, each 1 at its own pivot alone."""
    rows = np.zeros((count, count), dtype=np.int64)
    pivots: list[int] = []
    row_of = np.full(count, -1)
    for finish, setup, finish0, setup0 in ties.tolist():
        row = np.zeros(count, dtype=np.int64)
        ends = [finish, finishes + setup, finish0, finishes + setup0]
        np.add.at(row, ends, [1, 1, -1, -1])
        for end in set(ends):
            if row_of[end] >= 0:
                row = (row - row[end] * rows[row_of[end]]) % PRIME
        left = np.flatnonzero(row)
        if left.size:
            pivot = int(left[-1])
            row = row * pow(int(row[pivot]), -1, PRIME) % PRIME
            held = np.flatnonzero(rows[: len(pivots), pivot])
            rows[held] = (rows[held] - rows[held, pivot][:, None] * row) % PRIME
            rows[len(pivots)] = row
            row_of[pivot] = len(pivots)
            pivots.append(pivot)
    return rows[: len(pivots)], pivots
