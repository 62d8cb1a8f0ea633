"""A comparison of two visits in plain words."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from levelbook.book.model import Book
from levelbook.findings.display import (
    STEPS,
    direction_known,
    length_text,
    rounded_up,
    slope_text,
    slope_unit,
    toward,
)
from levelbook.findings.judge import Z95
from levelbook.findings.phrases import AREAS, MONTHS
from levelbook.findings.quantities import factor
from levelbook.findings.wording import load_wording
from levelbook.movement.model import (
    AreaChange,
    Caveat,
    Change,
    Comparison,
    DeflectionChange,
    TiltChange,
)

MOST = 8
"""Places named in the statement; the table has all."""


@dataclass(frozen=True)
class ComparisonWords:
    """What is said about a comparison: sentences in the order they are read.

    ``places`` is the part of the statement on single places and the zero.
    """

    statement: tuple[str, ...]
    places: tuple[str, ...]
    caveats: tuple[str, ...]
    method: tuple[str, ...]
    builder: tuple[str, ...]


def comparison_words(comparison: Comparison) -> ComparisonWords:
    """Return the words for a comparison."""
    teller = _Teller(comparison)
    shape, places = tuple(teller.statement()), tuple(teller.places())
    return ComparisonWords(
        statement=shape + places,
        places=places,
        caveats=tuple(teller.caveat(each) for each in comparison.caveats),
        method=tuple(teller.method()),
        builder=tuple(teller.builder()),
    )


def say(key: str, **values: str) -> str:
    """Return one sentence of the comparison's wording."""
    return load_wording("en", "comparing").say(key, values)


def day_text(book: Book) -> str:
    """Return the day of a visit in words; as written where it is no plain date."""
    try:
        day = date.fromisoformat(book.visit.date[:10])
    except ValueError:
        return book.visit.date
    words = load_wording()
    month = words.say(MONTHS[day.month - 1], {})
    return words.say("date.told", {"month": month, "day": str(day.day), "year": str(day.year)})


def area_text(book: Book, area: str) -> str:
    """Return what an area is called: by its kind where that is enough, else by its id."""
    words = load_wording()
    kind = next(a.kind for a in book.areas if a.id == area)
    if sum(a.kind == kind for a in book.areas) > 1:
        return words.say("area.named", {"id": area})
    return words.say(AREAS[kind], {})


class _Teller:
    """Fills in the sentences for one comparison."""

    def __init__(self, comparison: Comparison) -> None:
        self.comparison, self.book = comparison, comparison.earlier.book
        self.unit, self.plan = self.book.units.level, self.book.units.plan
        self.days = {"earlier": day_text(self.book), "later": day_text(comparison.later.book)}

    def say(self, key: str, **values: str) -> str:
        return say(key, **values)

    def caveat(self, caveat: Caveat) -> str:
        """Return one caveat, the days of the visits in words."""
        visits = (self.comparison.earlier, self.comparison.later)
        days = {visit.book.visit.date: day_text(visit.book) for visit in visits}
        values = {name: days.get(told, told) for name, told in caveat.values.items()}
        return self.say(f"caveat.{caveat.key}", **values)

    def statement(self) -> Iterator[str]:
        """Yield what is told first: what no zero touches, then the test."""
        area = self.comparison.areas.get(self.comparison.main)
        yield from self._shape(area)
        yield self._test()

    def places(self) -> Iterator[str]:
        """Yield what is told of single places, and against what all is told."""
        yield from self._places()
        held = self.comparison.datum.how == "held as chosen"
        yield self.say("statement.zero-held" if held else "statement.zero")

    def _shape(self, area: AreaChange | None) -> Iterator[str]:
        name = area_text(self.book, self.comparison.main)
        if area is None or area.tilt is None:
            yield self.say("statement.shape-none", area=name)
        else:
            yield self._tilt(area.tilt, name)
        if area is not None and area.deflection is not None:
            yield self._bend(area.deflection)
        if area is not None and area.range is not None:
            yield self._range(area.range)

    def _tilt(self, tilt: TiltChange, area: str) -> str:
        unit = slope_unit(self.unit)
        named = {"unit": self.say(f"tilt.{self.unit}"), "area": area, **self.days}
        if not tilt.significant:
            largest = float(np.sqrt(np.linalg.eigvalsh(np.array(tilt.covariance))[-1]))
            bound = (tilt.value + Z95 * largest) * factor("ratio", unit)
            step = "0.05" if self.unit == "in" else "0.5"
            return self.say("statement.tilt-none", bound=rounded_up(bound, step), **named)
        value, half = slope_text(tilt.value, tilt.sd, unit)
        named |= {"value": value, "half": half}
        if tilt.direction is None or not direction_known(tilt.value, tilt.sd):
            return self.say("statement.tilt-changed-nowhere", **named)
        way = load_wording().say(toward(tilt.direction, self.book.property.north), {})
        return self.say("statement.tilt-changed", toward=way, **named)

    def _bend(self, change: DeflectionChange) -> str:
        key = "bend-none" if not change.significant else _sign(change.value, "bend-up", "bend-down")
        told = abs(change.value) if change.significant else change.value
        length = {"length": f"{change.length:.0f}", "plan": self.plan}
        return self.say(f"statement.{key}", **self._figure(told, change.sd), **length)

    def _range(self, change: Change) -> str:
        shown = change.significant
        key = _sign(change.value, "range-more", "range-less") if shown else "range-none"
        told = abs(change.value) if shown else change.value
        return self.say(f"statement.{key}", **self._figure(told, change.sd))

    def _figure(self, value: float, sd: float) -> dict[str, str]:
        shown, half = length_text(value, sd, self.unit)
        return {"value": shown.replace("-", "−"), "half": half, "unit": self.unit}

    def _test(self) -> str:
        test, count = self.comparison.congruence, str(len(self.comparison.differences.ids))
        if test.moved is None:
            return self.say("statement.untested")
        if not test.moved:
            key = "statement.mixed" if self._something() else "statement.agree"
            return self.say(key, count=count)
        return self.say("statement.differ", count=count, chance=self._chance(test.p or 0.0))

    def _something(self) -> bool:
        """Tell whether a change of shape or a single place stands out."""
        area = self.comparison.areas.get(self.comparison.main)
        changes = () if area is None else (area.tilt, area.deflection, area.range)
        shape = any(change is not None and change.significant for change in changes)
        return shape or any(s.significant for s in self.comparison.movements.stations.values())

    def _chance(self, p: float) -> str:
        if p < 1e-4:
            return self.say("chance.rare")
        return self.say("chance.some", times=f"{float(f'{1 / p:.1g}'):,.0f}")

    def _places(self) -> Iterator[str]:
        stations = self.comparison.movements.stations
        told = [(i, s) for i, s in stations.items() if s.significant]
        told.sort(key=lambda each: -abs(each[1].moved or 0.0))
        if told:
            named = [
                self.say("statement.place", station=i, **self._figure(s.moved or 0.0, s.sd or 0.0))
                for i, s in told[:MOST]
            ]
            more = len(told) - MOST
            if more > 0:
                named.append(load_wording().say("sign.also", {"count": str(more)}))
            counts = {"list": "; ".join(named), "count": str(len(stations))}
            if len(told) == 1:
                yield self.say("statement.places-one", **counts)
            else:
                yield self.say("statement.places-some", changed=str(len(told)), **counts)
        else:
            yield self.say("statement.places-none")
        least = [s.least_detectable for s in stations.values() if s.least_detectable is not None]
        if least:
            step = STEPS[self.unit]
            low, high = rounded_up(min(least), step), rounded_up(max(least), step)
            yield self.say("statement.least", low=low, high=high, unit=self.unit)

    def method(self) -> Iterator[str]:
        """Yield how the comparison was worked out, with the figures of this one."""
        found = self.comparison
        by_id = sum(pair.by == "id" for pair in found.matching.pairs)
        yield self.say(
            "method.match",
            count=str(len(found.matching.pairs)),
            by_id=str(by_id),
            by_place=str(len(found.matching.pairs) - by_id),
            tolerance=f"{found.matching.tolerance:g}",
            near=f"{found.matching.place_tolerance:g}",
            plan=self.plan,
            only_earlier=str(len(found.matching.only_earlier)),
            only_later=str(len(found.matching.only_later)),
        )
        yield self.say("method.difference")
        yield self._variance()
        yield from self._held()
        yield self.say("method.tests")
        yield self.say("method.shape")
        yield self.say("method.sources")

    def _variance(self) -> str:
        test = self.comparison.congruence
        if test.variance_dof is None:
            return self.say("method.variance")
        dof, size = str(test.variance_dof), f"{test.variance:.2f}"
        return self.say("method.variance-pooled", dof=dof, factor=size)

    def _held(self) -> Iterator[str]:
        test, datum = self.comparison.congruence, self.comparison.datum
        if test.statistic is None or test.limit is None:
            yield self.say("method.congruence-none")
        else:
            figures = {"statistic": f"{test.statistic:.2f}", "limit": f"{test.limit:.2f}"}
            yield self.say("method.congruence", rank=str(test.rank), **figures)
        count = str(len(self.comparison.differences.ids))
        kept, removed = str(len(datum.stations)), str(len(datum.removed))
        if datum.how == "held as chosen":
            one = len(datum.stations) == 1
            yield self.say("method.chosen-one") if one else self.say("method.chosen", kept=kept)
        elif datum.how == "all agree":
            yield self.say("method.all-agree", count=count)
        else:
            yield self.say("method.freed", kept=kept, count=count, removed=removed)

    def builder(self) -> Iterator[str]:
        """Yield what the builder's page says of itself."""
        yield self.say("builder.facts", label=self.book.property.label)
        yield self.say("builder.sufficient")
        yield self.say("builder.cause")
        yield self.say("builder.terms")
        yield self.say("builder.record")


def _sign(value: float, up: str, down: str) -> str:
    return up if value > 0 else down
