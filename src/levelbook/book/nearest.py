"""The id that was probably meant by one that does not exist."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

_ENOUGH = 0.25


class Nearest:
    """Finds the most alike of many ids by the pairs of letters they share (Dice's measure).

    The work for one question is bounded by the number of ids times their length, in numpy, so
    that a document with thousands of broken references costs little.
    """

    def __init__(self, ids: Iterable[str]) -> None:
        self._ids = list(dict.fromkeys(ids))
        having: dict[str, list[int]] = {}
        sizes = []
        for index, name in enumerate(self._ids):
            pairs = _pairs(name)
            sizes.append(len(pairs))
            for pair in pairs:
                having.setdefault(pair, []).append(index)
        self._sizes = np.array(sizes, dtype=np.float64)
        self._having = {pair: np.array(rows) for pair, rows in having.items()}

    def find(self, wanted: str) -> str | None:
        """Return the id most alike, the first in the list of several; ``None`` without any."""
        pairs = _pairs(wanted)
        rows = [self._having[pair] for pair in pairs if pair in self._having]
        if not rows:
            return None
        shared: NDArray[np.float64] = np.bincount(
            np.concatenate(rows), minlength=len(self._ids)
        ).astype(np.float64)
        alike = 2 * shared / (self._sizes + len(pairs))
        best = int(alike.argmax())
        return self._ids[best] if alike[best] >= _ENOUGH else None


def _pairs(name: str) -> set[str]:
    """Return the pairs of neighbouring letters, the ends counting as letters."""
    padded = f"\x02{name.casefold()}\x03"
    return {padded[i : i + 2] for i in range(len(padded) - 1)}
