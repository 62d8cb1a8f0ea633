"""Which station of the earlier visit is which of the later."""

import numpy as np
from scipy.spatial.distance import cdist

from levelbook.book.units import METRES, convert
from levelbook.movement.model import Array, Differences, Elsewhere, Match, Matching, Visit

TOLERANCE = {"ft": 2.0, "m": 0.6}
"""An id counts as the same station up to this far away. Our choice."""
PLACE_TOLERANCE = {"ft": 1.0, "m": 0.3}
"""Stations of unlike id count as the same up to this far apart. Our choice."""


def match_stations(earlier: Visit, later: Visit, tolerance: float | None = None) -> Matching:
    """Match the read stations of two visits, by id and then by place.

    An id that is found farther away than ``tolerance`` is not matched by its id, and is told
    in ``elsewhere``. What is left is matched where two stations lie mutually nearest, within
    the smaller tolerance.

    Parameters
    ----------
    earlier, later
        The visits; both plans have one origin and orientation.
    tolerance
        In the earlier visit's plan unit; 2 ft or 0.6 m by default.
    """
    unit = earlier.book.units.plan
    within = TOLERANCE[unit] if tolerance is None else tolerance
    near = min(PLACE_TOLERANCE[unit], within)
    before, after = _places(earlier, unit), _places(later, unit)
    apart = {i: float(np.hypot(*(before[i] - after[i]))) for i in before if i in after}
    same = {i: away for i, away in apart.items() if away <= within}
    pairs = {i: Match(i, i, "id", away) for i, away in same.items()}
    left = {i: at for i, at in before.items() if i not in same}
    others = {i: at for i, at in after.items() if i not in same}
    pairs |= {pair.earlier: pair for pair in _by_place(left, others, near)}
    used = {pair.later for pair in pairs.values()}
    return Matching(
        pairs=tuple(pairs[i] for i in before if i in pairs),
        tolerance=within,
        place_tolerance=near,
        only_earlier=tuple(i for i in before if i not in pairs),
        only_later=tuple(i for i in after if i not in used),
        elsewhere=tuple(Elsewhere(i, away) for i, away in apart.items() if away > within),
    )


def difference(earlier: Visit, later: Visit, pairs: tuple[Match, ...]) -> Differences:
    """Return later minus earlier level of the matched stations, with covariance and blocks."""
    scale = level_scale(earlier, later)
    before, after = [p.earlier for p in pairs], [p.later for p in pairs]
    first, second = earlier.levels, later.levels
    d = _levels(later, after) * scale - _levels(earlier, before)
    covariance = second.covariance(after) * scale**2 + first.covariance(before)
    groups = [
        (first.stations[a].group, second.stations[b].group)
        for a, b in zip(before, after, strict=True)
    ]
    number = {group: k for k, group in enumerate(dict.fromkeys(groups))}
    return Differences(pairs, d, covariance, np.array([number[g] for g in groups], dtype=np.intp))


def level_scale(earlier: Visit, later: Visit) -> float:
    """Return the factor from the later visit's level unit to the earlier one's."""
    return convert(1.0, later.book.units.level, earlier.book.units.level)


def block_groups(
    differences: Differences, earlier: Visit, later: Visit
) -> tuple[tuple[str, str], ...]:
    """Return the groups (earlier, later) of every block, in the blocks' order."""
    first = np.unique(differences.block, return_index=True)[1]
    pairs = [differences.pairs[k] for k in first]
    return tuple(
        (earlier.levels.stations[p.earlier].group, later.levels.stations[p.later].group)
        for p in pairs
    )


def _places(visit: Visit, unit: str) -> dict[str, Array]:
    """Return the places of the stations that were read, in one plan unit."""
    scale = METRES[visit.book.units.plan] / METRES[unit]
    known = visit.levels.index
    return {s.id: np.array(s.at) * scale for s in visit.book.stations if s.id in known}


def _levels(visit: Visit, ids: list[str]) -> Array:
    return visit.levels.level[[visit.levels.index[i] for i in ids]]


def _by_place(before: dict[str, Array], after: dict[str, Array], near: float) -> list[Match]:
    """Match what lies mutually nearest and within ``near``."""
    if not before or not after:
        return []
    ids, others = list(before), list(after)
    apart = cdist(np.array(list(before.values())), np.array(list(after.values())))
    forth, back = apart.argmin(axis=1), apart.argmin(axis=0)
    return [
        Match(ids[i], others[j], "place", float(apart[i, j]))
        for i, j in enumerate(forth)
        if back[j] == i and apart[i, j] <= near
    ]
