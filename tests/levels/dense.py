"""A plain, slow adjustment to hold the fast one against.

The full design is written out with a column for every level, height, constant and drift and
solved by a pseudoinverse; what is estimable is asked of that matrix. Nothing here is shared
with the package but the document's model.
"""

from collections.abc import Iterable, Mapping

import numpy as np

from levelbook.book.model import Book, Reading

Key = tuple[str, str]


class Dense:
    """The adjustment of a book in full; ``drifting`` names the setups with a drift.

    ``hours`` gives the time of each reading by id where there is a drift.
    """

    def __init__(
        self, book: Book, drifting: Iterable[str] = (), hours: Mapping[str, float] | None = None
    ) -> None:
        self.drifting, self.hours = tuple(drifting), dict(hours or {})
        self.readings = [r for r in book.readings if not r.struck]
        setups = {s.id: s.instrument for s in book.setups}
        tools = {i.id: i for i in book.instruments}
        used = [tools[setups[r.setup]] for r in self.readings]
        self.sign = np.array([1.0 if t.higher_reads == "more" else -1.0 for t in used])
        self.sd = np.array([(t.sd * t.sd + t.resolution * t.resolution / 12) ** 0.5 for t in used])
        self.y = self.sign * np.array([float(r.value) for r in self.readings])
        self.keys: list[Key] = list(
            dict.fromkeys(key for r in self.readings for key in self.terms(r))
        )
        self.a = np.array([self.row(self.terms(r)) for r in self.readings])
        white = self.a / self.sd[:, None]
        self.inverse = np.linalg.pinv(white, rcond=1e-11)
        self.x = self.inverse @ (self.y / self.sd)
        self.cofactor = self.inverse @ self.inverse.T
        self.rank = int(np.linalg.matrix_rank(self.a, tol=1e-9))
        self.residual = self.y - self.a @ self.x
        self.redundancy = 1 - np.einsum("ij,ji->i", white, self.inverse)
        self.chi2 = float(((self.residual / self.sd) ** 2).sum())
        self.projector = np.linalg.pinv(self.a, rcond=1e-11) @ self.a

    def terms(self, reading: Reading) -> dict[Key, float]:
        """Return the unknowns in a reading and their coefficients."""
        terms = {
            ("level", reading.station): 1.0,
            ("height", reading.finish): 1.0,
            ("constant", reading.setup): 1.0,
        }
        if reading.setup in self.drifting:
            terms["drift", reading.setup] = self.hours[reading.id]
        return terms

    def row(self, terms: Mapping[Key, float]) -> np.ndarray:
        """Return a combination of unknowns as a row."""
        return np.array([terms.get(key, 0.0) for key in self.keys])

    def level_difference(self, a: str, b: str) -> np.ndarray:
        """Return the row of the level of ``a`` less that of ``b``."""
        if a == b:
            return self.row({})
        return self.row({("level", a): 1.0, ("level", b): -1.0})

    def tells(self, row: np.ndarray) -> bool:
        """Tell whether the readings determine a combination."""
        return bool(np.abs(row @ self.projector - row).max() < 1e-7)

    def value(self, row: np.ndarray) -> float:
        """Return the estimate of a combination."""
        return float(row @ self.x)

    def spread(self, row: np.ndarray) -> float:
        """Return the standard deviation of a combination."""
        return float(np.sqrt(max(row @ self.cofactor @ row, 0.0)))

    def partition(self) -> list[list[str]]:
        """Return the stations in groups, as they were first read."""
        groups: list[list[str]] = []
        for station in dict.fromkeys(r.station for r in self.readings):
            for group in groups:
                if self.tells(self.level_difference(station, group[0])):
                    group.append(station)
                    break
            else:
                groups.append([station])
        return groups
