"""Parts of sentences about one book: figures, places, signs and readings in plain words."""

from collections.abc import Mapping, Sequence
from datetime import date

from levelbook.book.model import Area, Book, Distress
from levelbook.findings.display import (
    direction_known,
    finest_step,
    length_text,
    one_in,
    one_in_interval,
    slope_text,
    slope_unit,
    toward,
    with_doubt,
)
from levelbook.findings.model import Finding
from levelbook.findings.teller import Teller
from levelbook.findings.written import width_of
from levelbook.floor.model import BendWord, Profile, Suspect, Tilt

BENDS: Mapping[BendWord, str] = {
    "level": "bend.level",
    "dome": "bend.dome",
    "dish": "bend.dish",
    "ridge": "bend.ridge",
    "trough": "bend.trough",
    "saddle": "bend.saddle",
    "one edge": "bend.one-edge",
    "one corner": "bend.one-corner",
    "not resolved": "bend.not-resolved",
}
AREAS = {
    "living": "area.living",
    "garage": "area.garage",
    "addition": "area.addition",
    "porch": "area.porch",
    "other": "area.other",
}
SIGNS = {
    "crack": "sign.crack",
    "separation": "sign.separation",
    "door-binding": "sign.door-binding",
    "door-out-of-square": "sign.door-out-of-square",
    "repair-seen": "sign.repair-seen",
}
ELEMENTS = {
    "drywall": "element.drywall",
    "ceiling": "element.ceiling",
    "brick-veneer": "element.brick-veneer",
    "slab": "element.slab",
    "tile": "element.tile",
    "trim": "element.trim",
    "exterior-grade-beam": "element.exterior-grade-beam",
    "other": "element.other",
}
AGES = {
    "fresh": "sign.fresh",
    "old": "sign.old",
    "repaired": "sign.repaired",
    "unknown": "sign.unknown",
}
MOST, MOST_SIGNS = 4, 3
"""How many figures, readings and signs a sentence names; of the rest it tells the number."""

MONTHS = tuple(f"month.{number}" for number in range(1, 13))


class Phrases:
    """Fills in the parts of sentences for one book; ``sets`` names sets of criteria by id."""

    def __init__(self, book: Book, teller: Teller, sets: Mapping[str, str]) -> None:
        self.book, self.teller, self.sets = book, teller, sets
        self._told: set[str] = set()

    def area(self, area: Area | None) -> str:
        """Return what an area is called: by its kind where that is enough, else by its id."""
        if area is None:
            return self.teller.part("area.outside")
        alike = [a for a in self.book.areas if a.kind == area.kind]
        if len(alike) > 1:
            return self.teller.part("area.named", id=area.id)
        return self.teller.part(AREAS[area.kind])

    def date(self) -> str:
        """Return the day of the visit in words; as written where it is no plain date."""
        try:
            day = date.fromisoformat(self.book.visit.date[:10])
        except ValueError:
            return self.book.visit.date
        month = self.teller.part(MONTHS[day.month - 1])
        return self.teller.part("date.told", month=month, day=str(day.day), year=str(day.year))

    def places(self, count: int) -> str:
        """Return how many places were read."""
        if count == 1:
            return self.teller.part("count.place-one")
        return self.teller.part("count.place-many", count=str(count))

    def length(self, value: float, sd: float) -> str:
        """Return a height difference in the level unit with its give-or-take."""
        unit = self.book.units.level
        shown, half = length_text(value, sd, unit)
        return self.teller.part("figure.length", value=shown, half=half, unit=unit)

    def tilt(self, tilt: Tilt) -> str:
        """Return how much the floor falls as a whole, and where to if that can be told."""
        inches = self.book.units.level == "in"
        shown, half = slope_text(tilt.slope, tilt.sd, slope_unit(self.book.units.level))
        key = "figure.slope-in" if inches else "figure.slope-mm"
        slope = self.teller.part(key, value=shown, half=half)
        if tilt.direction is None or not direction_known(tilt.slope, tilt.sd):
            return self.teller.part("tilt.no-clear-fall", slope=slope)
        way = self.teller.part(toward(tilt.direction, self.book.property.north))
        return self.teller.part("tilt.falls", toward=way, slope=slope)

    def bend(self, word: BendWord) -> str:
        """Return what the floor's shape is like once its tilt is taken away."""
        return self.teller.part(BENDS[word])

    def line(self, profile: Profile | None) -> str:
        """Return the bend along one line."""
        keys = {"hog": "line.hog", "sag": "line.sag", "straight": "line.straight"}
        return self._line(profile, keys)

    def lines(self, profile: Profile | None, without: Profile | None) -> str:
        """Return the bend along one line, and where it is given that without some readings."""
        told = self.line(profile)
        if without is None:
            return told
        keys = {
            "hog": "line.hog-without",
            "sag": "line.sag-without",
            "straight": "line.straight-without",
        }
        return self.teller.part("line.both", line=told, without=self._line(without, keys))

    def _line(self, profile: Profile | None, keys: Mapping[str, str]) -> str:
        if profile is None:
            return self.teller.part("line.none")
        values = {
            "deflection": self.length(abs(profile.deflection), profile.sd),
            "length": f"{profile.length:.0f}",
            "plan": self.book.units.plan,
        }
        return self.teller.part(keys[profile.shape], **values)

    def figure(self, finding: Finding) -> str:
        """Return a finding against its limit, with its give-or-take and the set it is from."""
        value, limit = self._value(finding), f"{finding.limit:g} {finding.unit}"
        if finding.unit == "ratio":
            middle = one_in(finding.limit) or ""
            limit = self.teller.part("figure.one-in-limit", middle=middle)
        return self.teller.part(
            "figure.against",
            title=finding.title[:1].lower() + finding.title[1:],
            value=value,
            limit=limit,
            set=self.sets.get(finding.set, finding.set),
        )

    def figures(self, findings: Sequence[Finding]) -> str:
        """Return several findings against their limits."""
        return self.teller.listed([self.figure(f) for f in findings[:MOST]], len(findings))

    def _value(self, finding: Finding) -> str:
        value, sd = finding.value or 0.0, finding.sd or 0.0
        if finding.unit == "ratio":
            return self._one_in(value, sd)
        shown, half = with_doubt(value, sd, finest_step(finding))
        return self.teller.part("figure.plain", value=shown, half=half, unit=finding.unit)

    def _one_in(self, ratio: float, sd: float) -> str:
        middle, steep, gentle = one_in_interval(ratio, sd)
        if steep is None:
            return self.teller.part("figure.one-in-none")
        if middle is None or gentle is None:
            return self.teller.part("figure.one-in-flat", steep=steep)
        return self.teller.part("figure.one-in", middle=middle, steep=steep, gentle=gentle)

    def signs(self, distress: Sequence[Distress]) -> str:
        """Return signs of distress, each with its age and width where first it is told."""
        told = [self._sign(d) for d in distress[:MOST_SIGNS]]
        return self.teller.listed(told, len(distress))

    def _sign(self, distress: Distress) -> str:
        values = {
            "id": distress.id,
            "kind": self.teller.part(SIGNS.get(distress.kind, "sign.other")),
        }
        if distress.id in self._told:
            return self.teller.part("sign.again", **values)
        self._told.add(distress.id)
        values |= {
            "age": self.teller.part(AGES[distress.age or "unknown"]),
            "element": self.teller.part(ELEMENTS[distress.element]),
        }
        width = width_of(distress)
        if width is None:
            return self.teller.part("sign.plain", **values)
        unit = self.book.units.level
        shown, half = with_doubt(width.value, width.sd, "0.01" if unit == "in" else "0.1")
        return self.teller.part("sign.wide", width=shown, half=half, unit=unit, **values)

    def suspects(self, suspects: Sequence[Suspect]) -> str:
        """Return readings that look like slips, with what was expected instead."""
        return self.teller.listed([self._suspect(s) for s in suspects[:MOST]], len(suspects))

    def suspect_names(self, suspects: Sequence[Suspect]) -> str:
        """Return readings that look like slips, each with its station alone."""
        told = [
            self.teller.part("suspect.name", reading=s.reading, station=s.station)
            for s in suspects[:MOST]
        ]
        return self.teller.listed(told, len(suspects))

    def _suspect(self, suspect: Suspect) -> str:
        expected, half = length_text(suspect.expected, suspect.expected_sd, self.book.units.level)
        return self.teller.part(
            "suspect.short",
            reading=suspect.reading,
            station=suspect.station,
            value=suspect.value,
            expected=expected,
            half=half,
        )
