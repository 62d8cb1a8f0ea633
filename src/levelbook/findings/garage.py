"""The garage floors and the ground outside: what is found out, and the words for it."""

from collections.abc import Mapping, Sequence
from math import ceil

import shapely

from levelbook.book.model import Area, Book
from levelbook.errors import UsageError
from levelbook.findings.display import direction_known, slope_text, toward, with_doubt
from levelbook.findings.judge import Z95
from levelbook.findings.model import Finding, NoGarage, Water
from levelbook.findings.phrases import Phrases
from levelbook.findings.teller import Teller
from levelbook.floor.garage import Garage, Trail, Verdict, study_garage
from levelbook.floor.grade import GradeFall, grade_falls
from levelbook.floor.low_spots import LowSpot
from levelbook.floor.model import Point, TooFew
from levelbook.floor.shape import Floor

VERDICTS: Mapping[Verdict, str] = {
    "drains": "garage.is-drains",
    "flat": "garage.is-flat",
    "negative slope": "garage.is-negative-slope",
    "ponds": "garage.is-ponds",
    "too close to call": "garage.is-close",
}
ALERTS: Mapping[Verdict, str] = {
    "negative slope": "alert.negative-slope",
    "ponds": "alert.ponds",
}
ENDS = {
    "door": "garage.end-door",
    "drain": "garage.end-drain",
    "wall": "garage.end-wall",
    "low spot": "garage.end-low-spot",
}
MOST_SPOTS, MOST_GRADES = 4, 12
GROUND = "ground"  # the set with what the code asks of the ground


def study_water(book: Book, floor: Floor, points: Sequence[Point] = ()) -> Water:
    """Return where water goes on every garage floor and beside the walls.

    ``points`` are further places to let water go from, each on a garage floor.

    Raises
    ------
    UsageError
        If a point lies on no garage floor.
    """
    named = [(f"{x:g}, {y:g}", (x, y)) for x, y in points]
    garages = [area for area in book.areas if area.kind == "garage"]
    for name, at in named:
        if not any(within(area, at) for area in garages):
            raise UsageError("water", f"{name} lies on no garage floor", "name a place on one")
    return Water({a.id: _garage(book, a, floor, named) for a in garages}, grade_falls(book))


def _garage(
    book: Book, area: Area, floor: Floor, points: Sequence[tuple[str, Point]]
) -> Garage | NoGarage:
    shape = floor.areas[area.id]
    if area.vehicle_door is None:
        return NoGarage(area.id)
    if isinstance(shape, TooFew):
        return NoGarage(area.id, shape.stations, shape.needs)
    mine = [each for each in points if within(area, each[1])]
    return study_garage(book, area, shape.surface, shape.tilt, mine)


class WaterSpeech:
    """Says everything about one garage, and about the ground outside."""

    def __init__(self, book: Book, teller: Teller, phrases: Phrases) -> None:
        self.book, self.teller, self.phrases = book, teller, phrases

    def garage(self, found: Garage | NoGarage) -> tuple[str, ...]:
        """Return the sentences about one garage: the word first, then what it rests on."""
        tell, place = self.teller.tell, found.area
        area = next(a for a in self.book.areas if a.id == place)
        name = {"area": self.phrases.area(area)}
        if isinstance(found, NoGarage):
            if found.stations is None:
                return (tell("garage.no-door", place, **name),)
            counts = {"stations": str(found.stations), "needs": str(found.needs)}
            return (tell("garage.too-few", place, **name, **counts),)
        drained = found.verdict == "drains" and bool(found.drains)
        word = "garage.is-drains-drain" if drained else VERDICTS[found.verdict]
        told = [tell(word, place, **name), self._fall(found)]
        told += [self._shares(found), *self._spots(found)]
        told += [self._trail(found, trail) for trail in found.trails]
        return tuple(told)

    def _fall(self, found: Garage) -> str:
        fall = found.fall
        slope, half = slope_text(abs(found.slope), found.slope_sd, self._per())
        values = {
            "count": self.phrases.places(found.readings),
            "fall": self.phrases.length(abs(fall.value), fall.sd),
            "depth": f"{fall.depth:.0f}",
            "plan": self.book.units.plan,
            "slope": slope,
            "half": half,
            "per": self.teller.part("garage.per-ft" if self._inches else "garage.per-m"),
            "whole": self._whole(found),
        }
        keys = {True: "garage.falls", False: "garage.rises"}
        return self.teller.tell(keys[fall.value >= 0], found.area, **values)

    def _whole(self, found: Garage) -> str:
        """Return which way the floor as a whole falls, where that can be told."""
        if found.toward is None or not direction_known(found.resultant, found.resultant_sd):
            return self.teller.part("garage.no-way")
        way = self.teller.part(toward(found.toward, self.book.property.north))
        return self.teller.part("garage.way", toward=way)

    @property
    def _inches(self) -> bool:
        return self.book.units.level == "in"

    def _per(self) -> str:
        return "in per ft" if self._inches else "mm per m"

    def _shares(self, found: Garage) -> str:
        best, low, high = found.shares, found.shares_low, found.shares_high
        values = {
            "door": percent(best.door, low.door, high.door),
            "wall": percent(best.wall, low.wall, high.wall),
            "stands": percent(best.stands, low.stands, high.stands),
        }
        if found.drains:
            drain = percent(best.drain, low.drain, high.drain)
            return self.teller.tell("garage.shares-drain", found.area, drain=drain, **values)
        return self.teller.tell("garage.shares", found.area, **values)

    def _spots(self, found: Garage) -> list[str]:
        if not found.low_spots:
            return [self.teller.tell("garage.no-spot", found.area)]
        return [
            self._spot(f"{found.area}.{number}", number, spot)
            for number, spot in enumerate(found.low_spots[:MOST_SPOTS], start=1)
        ]

    def _spot(self, place: str, number: int, spot: LowSpot) -> str:
        unit = "ft" if self.book.units.plan == "ft" else "m"
        area, half = with_doubt(spot.area, spot.area_sd, "1" if unit == "ft" else "0.1")
        return self.teller.tell(
            "garage.spot",
            place,
            number=str(number),
            depth=self.phrases.length(spot.depth, spot.depth_sd),
            size=area,
            half=half,
            plan=unit,
            often=often(spot.probability),
        )

    def _trail(self, found: Garage, trail: Trail) -> str:
        heater = trail.label == "water-heater"
        start = self.teller.part("garage.from-heater" if heater else "garage.from-place")
        if not heater:
            start = f"{start} ({trail.label})"
        out = trail.probability + trail.probability_drain
        key = "garage.trail-drain" if found.drains else "garage.trail"
        place = f"{found.area}.{found.trails.index(trail) + 1}"
        values = {"start": start, "often": often(out)}
        if not trail.sure:
            unsure = {
                "garage.trail": "garage.trail-unsure",
                "garage.trail-drain": "garage.trail-drain-unsure",
            }
            return self.teller.tell(unsure[key], place, **values)
        return self.teller.tell(key, place, end=self.teller.part(ENDS[trail.end]), **values)

    def alerts(self, water: Water) -> tuple[str, ...]:
        """Return what a buyer should not overlook: a sentence each, and what to do."""
        told = []
        for found in water.garages.values():
            key = None if isinstance(found, NoGarage) else ALERTS.get(found.verdict)
            if key is not None:
                area = next(a for a in self.book.areas if a.id == found.area)
                told.append(self.teller.tell(key, found.area, area=self.phrases.area(area)))
        count = sum(each.negative for each in water.grades)
        if count:
            where = self._where(count, len(water.grades))
            told.append(self.teller.tell("alert.ground", where=where))
        return tuple(told)

    def _where(self, count: int, total: int) -> str:
        """Return at how many of the places read outside something holds."""
        if total == 1:
            return self.teller.part("alert.ground-one")
        if count == total:
            return self.teller.part("alert.ground-all", total=str(total))
        return self.teller.part("alert.ground-some", count=str(count), total=str(total))

    def meaning(self, water: Water) -> tuple[str, ...]:
        """Return what the code asks for and what is customary, for any garage."""
        if not water.garages:
            return ()
        tell = self.teller.tell
        told = [tell("garage.code"), tell("garage.built"), tell("garage.limits")]
        return tuple(told)

    def cautions(self, water: Water) -> tuple[str, ...]:
        """Return what to be careful of in a garage, and whom to ask about the code."""
        keys = ("garage.fuel", "garage.heater", "garage.springs") if water.garages else ()
        told = [self.teller.tell(key) for key in keys]
        if water.garages or water.grades:
            told.append(self.teller.tell("garage.authority"))
        return tuple(told)

    def ground(self, water: Water, findings: Sequence[Finding]) -> tuple[str, ...]:
        """Return the sentences about the ground outside, the worst pairs first."""
        if not water.grades:
            return ()
        told = [self.teller.tell("ground.what", count=self._places(len(water.grades)))]
        ordered = sorted(water.grades, key=lambda each: each.slope)
        told += [self._grade(each) for each in ordered[:MOST_GRADES]]
        if len(ordered) > MOST_GRADES:
            told.append(self.teller.tell("ground.more", count=str(len(ordered) - MOST_GRADES)))
        if any(each.negative for each in ordered):
            told.append(self.teller.tell("ground.negative"))
        beyond = sum(f.set == GROUND and f.state == "beyond" for f in findings)
        if beyond:
            where = self._where(beyond, len(ordered))
            told.append(self.teller.tell("ground.short", where=where))
        return tuple(told)

    def _places(self, count: int) -> str:
        """Return in how many places the ground was read."""
        if count == 1:
            return self.phrases.places(count)
        return self.teller.part("ground.places", count=str(count))

    def _grade(self, each: GradeFall) -> str:
        slope, half = slope_text(abs(each.slope), each.slope_sd, "percent")
        values = {
            "id": each.id,
            "fall": self.phrases.length(abs(each.fall), each.sd),
            "distance": f"{each.distance:.1f}".removesuffix(".0"),
            "plan": self.book.units.plan,
            "slope": slope,
            "half": half,
        }
        if each.negative:
            return self.teller.tell("ground.rises", each.id, **values)
        if each.fall > Z95 * each.sd:
            return self.teller.tell("ground.falls", each.id, **values)
        key = "ground.unsure-falls" if each.fall > 0 else "ground.unsure"
        return self.teller.tell(key, each.id, **values)


def percent(share: float, low: float, high: float) -> str:
    """Return a share of the floor in percent with its 95 % range, in words at either end.

    At least a percent is left open, as so few draws allow no surer word.
    """
    least, most = min(99, int(100 * low)), max(1, ceil(100 * high))
    if least <= 0 and most >= 100:
        return "anything from none to all of it"
    if least <= 0:
        return f"at most {most} %"
    if most >= 100:
        return f"at least {least} %"
    return f"{100 * share:.0f} % (between {least} and {most})"


def often(share: float) -> str:
    """Return how many of 100 floors, told no surer than so few draws allow."""
    if share > 0.985:
        return "at least 98"
    return "at most 2" if share < 0.015 else f"about {100 * share:.0f}"


def within(area: Area, at: Point) -> bool:
    """Tell whether a place lies on the floor of an area."""
    return bool(shapely.Polygon(area.outline).intersects(shapely.Point(at)))
