"""Two visits to one house: the whole comparison."""

from collections.abc import Collection
from dataclasses import replace
from difflib import get_close_matches

import numpy as np

from levelbook.errors import UsageError
from levelbook.movement.caveats import caveats
from levelbook.movement.datum import describe_datum, hold_together, pooled_variance
from levelbook.movement.matching import block_groups, difference, match_stations
from levelbook.movement.model import Comparison, Matching, Visit
from levelbook.movement.shape import area_changes, section_changes
from levelbook.movement.stations import settle


def compare(
    earlier: Visit,
    later: Visit,
    *,
    hold: Collection[str] = (),
    tolerance: float | None = None,
    shape: bool = True,
) -> Comparison:
    """Return what two visits to one house say about movement.

    Parameters
    ----------
    earlier, later
        The visits, in the order of their dates.
    hold
        Stations (earlier ids) known to have stood still, to use instead of finding some.
    tolerance
        How far an id may lie from its former place, in the earlier visit's plan unit.
    shape
        Whether to work out the changes of tilt, bend and range of every area.

    Raises
    ------
    UsageError
        If the visits are out of order, share fewer than two stations, or a station to hold
        is not among those matched.
    """
    _check_order(earlier, later)
    matching = match_stations(earlier, later, tolerance)
    _check_common(matching, earlier.book.units.plan)
    differences = difference(earlier, later, matching.pairs)
    _check_hold(hold, differences.ids)
    variance = pooled_variance((earlier.levels.fit, later.levels.fit))
    groups = block_groups(differences, earlier, later)
    held = frozenset(hold)
    congruence, state = hold_together(differences, variance, held)
    areas = area_changes(earlier, later, differences, variance) if shape else {}
    places = {s.id: s.at for s in earlier.book.stations}
    xy = np.array([places[i] for i in differences.ids], dtype=float)
    moved = settle(differences, state, variance, xy, held)
    reference = earlier.book.reference.station
    main = next(s.area for s in earlier.book.stations if s.id == reference)
    found = Comparison(
        earlier=earlier,
        later=later,
        matching=matching,
        differences=differences,
        congruence=congruence,
        datum=describe_datum(differences, state, groups, variance, held),
        movements=moved,
        main=main,
        areas=areas,
        sections=section_changes(earlier, areas),
        caveats=(),
    )
    return replace(found, caveats=caveats(found))


def _check_order(earlier: Visit, later: Visit) -> None:
    first, second = earlier.book.visit.date, later.book.visit.date
    if second < first:
        raise UsageError(
            "visits",
            f"the visit of {second} is given after that of {first}",
            "give the earlier visit first",
        )


def _check_common(matching: Matching, plan: str) -> None:
    if len(matching.pairs) < 2:
        raise UsageError(
            "stations",
            f"the visits have {len(matching.pairs)} stations in common; nothing can be compared",
            f"give the same ids, or read within {matching.place_tolerance:g} {plan} of the former "
            "places",
        )


def _check_hold(hold: Collection[str], ids: tuple[str, ...]) -> None:
    for station in hold:
        if station not in ids:
            near = get_close_matches(station, ids, n=1)
            known = f"; nearest id {near[0]!r}" if near else ""
            raise UsageError(
                f"hold {station}",
                f"no matched station has this id{known}",
                "name stations of the earlier visit that were read on both",
            )
