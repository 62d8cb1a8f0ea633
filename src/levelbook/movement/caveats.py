"""What two relative surveys cannot tell, as keys of the wording with what fills them in."""

from collections.abc import Iterator

import numpy as np

from levelbook.movement.model import Caveat, Comparison, Visit

FEW = 8
"""Matched stations under which a caveat says that there are few. Our choice."""


def caveats(comparison: Comparison) -> tuple[Caveat, ...]:
    """Return everything that should stand beside this comparison, most important first."""
    return tuple(
        Caveat(key, values)
        for part in (_zero, _datum, _stations, _visits)
        for key, values in part(comparison)
    )


def _zero(comparison: Comparison) -> Iterator[tuple[str, dict[str, str]]]:
    if comparison.datum.how == "held as chosen":
        yield "held", {"stations": _list(comparison.datum.stations)}
    else:
        yield "no-bench-mark", {}
    if comparison.differences.blocks.shape[1] > 1:
        yield "blocks", {"count": str(comparison.differences.blocks.shape[1])}


def _datum(comparison: Comparison) -> Iterator[tuple[str, dict[str, str]]]:
    datum = comparison.datum
    if comparison.congruence.moved is None:
        yield "untested", {}
    if not datum.majority:
        count = len(datum.stations), len(comparison.differences.ids)
        yield "minority", {"kept": str(count[0]), "all": str(count[1])}
    if not datum.agree:
        yield "second-opinion", {}
    if datum.how == "held as chosen" and datum.rest.moved:
        yield "held-disagree", {}


def _stations(comparison: Comparison) -> Iterator[tuple[str, dict[str, str]]]:
    matching, ids = comparison.matching, comparison.differences.ids
    unit = comparison.earlier.book.units.plan
    if len(ids) < FEW:
        yield "few", {"count": str(len(ids))}
    if matching.elsewhere:
        yield "elsewhere", {"stations": _list(tuple(e.station for e in matching.elsewhere))}
    apart = max((pair.apart for pair in matching.pairs), default=0.0)
    away = f"{apart:.1f} {unit}" if np.round(apart, 1) > 0 else ""
    yield ("repositioned", {"apart": away}) if away else ("repositioning", {})


def _visits(comparison: Comparison) -> Iterator[tuple[str, dict[str, str]]]:
    earlier, later = comparison.earlier, comparison.later
    for visit in (earlier, later):
        fit = visit.levels.fit
        if fit.chi2_high is None:
            yield "unchecked", {"date": visit.book.visit.date}
        elif fit.chi2 > fit.chi2_high:  # repeats rounded alike may well agree too closely
            yield "fit", {"date": visit.book.visit.date}
    yield ("refloored" if _underfoot(earlier) != _underfoot(later) else "finishes"), {}
    yield "seasons", {"earlier": earlier.book.visit.date, "later": later.book.visit.date}
    yield "cause", {}


def _underfoot(visit: Visit) -> set[str]:
    return {finish.name for finish in visit.book.finishes}


def _list(ids: tuple[str, ...], most: int = 12) -> str:
    """Return ids as a list that stays short."""
    more = len(ids) - most
    return ", ".join(ids[:most]) + (f" and {more} more" if more > 0 else "")
