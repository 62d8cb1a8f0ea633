"""A plain slow reference: both visits adjusted together from their readings, densely.

Unknowns are the stations' levels, and for each visit its finishes and setups. A station that
stood still has one level for both visits; one that moved has two. Nothing here shares code
with the package but the parsing of a reading.
"""

from collections.abc import Collection

import numpy as np

from levelbook.book import parse_value
from levelbook.book.model import Book


def joint_fit(
    books: tuple[Book, Book], moved: Collection[str]
) -> tuple[float, dict[str, float], dict[str, float]]:
    """Return the sum of squares, and movement and its sd of the stations that may move.

    Stations are matched by id.
    """
    names: dict[tuple[str, ...], int] = {}
    rows: list[dict[int, float]] = []
    values: list[float] = []
    for epoch, book in enumerate(books):
        level = book.instruments[0]
        sd = (level.sd**2 + level.resolution**2 / 12) ** 0.5
        for reading in book.readings:
            terms = [
                ("station", reading.station),
                ("finish", str(epoch), reading.finish),
                ("setup", str(epoch), reading.setup),
            ]
            if epoch == 1 and reading.station in moved:
                terms.append(("rise", reading.station))
            rows.append({names.setdefault(term, len(names)): 1 / sd for term in terms})
            values.append(level.sense * float(parse_value(reading.value)) / sd)
    design = np.zeros((len(rows), len(names)))
    for k, row in enumerate(rows):
        design[k, list(row)] = list(row.values())
    inverse = np.linalg.pinv(design, rcond=1e-10)
    estimates = inverse @ np.array(values)
    residual = np.array(values) - design @ estimates
    cofactor = inverse @ inverse.T
    rise = {i: names["rise", i] for i in moved}
    return (
        float(residual @ residual),
        {i: float(estimates[k]) for i, k in rise.items()},
        {i: float(cofactor[k, k] ** 0.5) for i, k in rise.items()},
    )
