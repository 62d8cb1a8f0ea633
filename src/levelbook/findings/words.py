"""The words of a report, put together: what a buyer reads, in order."""

from collections.abc import Mapping

import shapely

from levelbook.book.model import Book
from levelbook.findings.facts import AreaFacts
from levelbook.findings.garage import WaterSpeech
from levelbook.findings.model import Finding, Outcome, Water, Words
from levelbook.findings.phrases import Phrases
from levelbook.findings.reasons import Case, Reasons, apart, few
from levelbook.findings.rules import ORDER, decide
from levelbook.findings.screening import connected
from levelbook.findings.teller import Teller
from levelbook.floor.model import TooFew
from levelbook.floor.shape import AreaShape

TITLES: Mapping[Outcome, str] = {
    "nothing unusual": "title.nothing-unusual",
    "keep watching": "title.keep-watching",
    "ask an engineer": "title.ask-an-engineer",
    "readings not sufficient": "title.readings-not-sufficient",
}
MEANINGS: Mapping[Outcome, str] = {
    "nothing unusual": "meaning.nothing-unusual",
    "keep watching": "meaning.keep-watching",
    "ask an engineer": "meaning.ask-an-engineer",
    "readings not sufficient": "meaning.readings-not-sufficient",
}
LIMITS = (
    "limits.one-visit",
    "limits.built",
    "limits.cause",
    "limits.which-side",
    "limits.hidden",
    "limits.future",
)
STATES = {
    "within": "count.within",
    "beyond": "count.beyond",
    "too close to call": "count.close",
    "not measured": "count.unmeasured",
}


class Speech:
    """Says everything about one case; the parts of a report are its methods."""

    def __init__(self, book: Book, case: Case, teller: Teller, sets: Mapping[str, str]) -> None:
        self.book, self.case, self.teller = book, case, teller
        self.phrases = Phrases(book, teller, sets)
        self.reasons = Reasons(case, teller, self.phrases)

    def words(self, findings: tuple[Finding, ...], water: Water) -> tuple[Words, tuple[str, ...]]:
        """Return all words, and the reasons of the screening."""
        speech = WaterSpeech(self.book, self.teller, self.phrases)
        garages = {area: speech.garage(found) for area, found in water.garages.items()}
        outcome, readings = self.reasons.of_outcome(), self.reasons.of_readings()
        words = Words(
            title=self.teller.tell(TITLES[self.case.outcome]),
            summary=self.summary(findings),
            meaning=self.meaning((*outcome[:2], *readings)),
            advice=self.advice(),
            limits=tuple(self.teller.tell(key) for key in LIMITS),
            cautions=self.cautions(),
            garages=garages,
            water=speech.meaning(water),
            ground=speech.ground(water, findings),
            water_cautions=speech.cautions(water),
            alerts=speech.alerts(water),
            overrides=tuple(self.teller.replaced.values()),
            labels=self.teller.wording.section("label"),
            sentences=dict(self.teller.told),
        )
        return words, (*outcome, *readings)

    def summary(self, findings: tuple[Finding, ...]) -> tuple[str, ...]:
        """Return three sentences: how far from level, how it bends, what was seen.

        Two where no floor is meant to be level, so that there is none to tell of.
        """
        tell, phrases = self.teller.tell, self.phrases
        signs = self._signs()
        main = self.main()
        if main is None or not isinstance(main.shape, AreaShape):
            return (*self._no_shape(), tell("summary.signs-only", signs=signs))
        shape = main.shape
        first = self._range(main, shape)
        trial = self.case.without(main)
        line = phrases.lines(shape.deflection, None if trial is None else trial.deflection)
        second = tell("summary.shape", bend=phrases.bend(shape.bend.word), line=line)
        return first, second, self._signs_and_limits(signs, findings)

    def _no_shape(self) -> tuple[str, ...]:
        """Return why nothing is told of the floor's shape."""
        tell, date = self.teller.tell, self.phrases.date()
        rooms = {f.id for f in self.case.facts if f.meant_level}
        read = [s for s in self.book.stations if s.id in self.case.levels.index]
        if not rooms:
            places = self.phrases.places(len(read))
            return (tell("summary.no-floor", date=date, places=places),)
        places = self.phrases.places(sum(s.area in rooms for s in read))
        return tell("summary.too-few", date=date, places=places), tell("summary.too-few-shape")

    def _range(self, main: AreaFacts, shape: AreaShape) -> str:
        """Return how far from level; with and without readings that look like slips."""
        phrases, trial = self.phrases, self.case.without(main)
        values = {
            "date": phrases.date(),
            "area": phrases.area(main.area),
            "places": phrases.places(len(shape.surface.stations)),
            "range": phrases.length(shape.range.value, shape.range.sd),
            "tilt": phrases.tilt(shape.tilt),
        }
        if trial is None:
            return self.teller.tell("summary.range", **values)
        without = phrases.length(trial.range.value, trial.range.sd)
        return self.teller.tell("summary.range-slip", without=without, **values)

    def main(self) -> AreaFacts | None:
        """Return the area that the summary is about: the gravest, of equals the largest."""
        rooms = [f for f in self.case.facts if isinstance(f.shape, AreaShape) and f.meant_level]
        return max(rooms, key=_weight, default=None)

    def _signs(self) -> str:
        count = sum(len(f.signs) for f in self.case.facts)
        keys = {0: "signs.none", 1: "signs.one"}
        if count in keys:
            return self.teller.part(keys[count])
        return self.teller.part("signs.many", count=str(count))

    def _signs_and_limits(self, signs: str, findings: tuple[Finding, ...]) -> str:
        """Return the signs, and how many limits on movement there are in each state."""
        states = [f.state for f in findings if f.kind == "movement"]
        if not states:
            return self.teller.tell("summary.signs-only", signs=signs)
        counted = [
            self.teller.part(key, count=str(states.count(state)))
            for state, key in STATES.items()
            if state in states
        ]
        return self.teller.tell(
            "summary.signs", signs=signs, total=str(len(states)), states=self.teller.joined(counted)
        )

    def meaning(self, reasons: tuple[str, ...]) -> tuple[str, ...]:
        """Return what the outcome means, why, and how to take it."""
        tell, case = self.teller.tell, self.case
        told = []
        if case.outcome != case.decision.outcome:
            wish = self.teller.wishes.by_key["screening.outcome"]
            original = self.reasons.outcome(case.decision.outcome)
            told.append(tell("meaning.overruled", outcome=original, reason=wish.reason))
        told += [tell(MEANINGS[case.outcome]), *reasons]
        if case.decision.provisional is not None:
            word = self.reasons.outcome(case.decision.provisional)
            told.append(tell("meaning.provisional", outcome=word))
        told += self._other_areas()
        if self.book.property.foundation in (None, "slab-on-ground"):
            told.append(tell("meaning.new-slabs"))
        return tuple(told)

    def _other_areas(self) -> list[str]:
        """Return the outcome of every level area that the summary is not about."""
        main, told = self.main(), []
        for verdict in self.case.decision.verdicts:
            facts = verdict.facts
            if facts.meant_level and facts is not main and main is not None:
                word, area = self.reasons.outcome(verdict.outcome), self.phrases.area(facts.area)
                told.append(
                    self.teller.tell("meaning.other-area", facts.id, area=area, outcome=word)
                )
        return told

    def advice(self) -> tuple[str, ...]:
        """Return what to do next, by the outcome that stands."""
        outcome, tell = self.case.outcome, self.teller.tell
        told = []
        if outcome == "ask an engineer":
            told += [tell("advice.engineer"), tell("advice.engineer-leave")]
        if outcome == "keep watching":
            told.append(tell("advice.watch-again"))
            if any(f.signs for f in self.case.facts):
                told.append(tell("advice.watch-signs"))
        if outcome == "nothing unusual":
            told.append(tell("advice.nothing-unusual"))
        return (*told, *self._readings(), tell("advice.water"))

    def _readings(self) -> list[str]:
        """Return which readings to take again, and where to take more."""
        tell, phrases, told = self.teller.tell, self.phrases, []
        if self.case.suspects:
            told.append(
                tell("advice.read-again", readings=phrases.suspect_names(self.case.suspects))
            )
        for facts in self.case.facts:
            area, shape = phrases.area(facts.area), facts.shape
            if isinstance(shape, TooFew) and facts.meant_level:
                more = str(shape.needs - shape.stations)
                told.append(tell("advice.read-more", facts.id, area=area, more=more))
            if isinstance(shape, AreaShape) and connected(self.book, self.case.levels, shape)[1]:
                told.append(tell("advice.pair-finishes", facts.id, area=area))
        main = self.main()
        if main is not None and isinstance(main.shape, AreaShape) and main.shape.coverage.next:
            told.append(tell("advice.read-next"))
        return told

    def cautions(self) -> tuple[str, ...]:
        """Return what must be kept in mind beside every outcome."""
        tell = self.teller.tell
        told = [tell("caution.not-engineering"), tell("caution.local"), tell("caution.single")]
        told += self._slab()
        for facts in self.case.facts:
            told += self._area(facts)
        if any(a.kind in ("garage", "porch") for a in self.book.areas):
            told.append(tell("caution.garage"))
        fit = self.case.levels.fit
        if fit.chi2_high is not None and fit.chi2 > fit.chi2_high:
            told.append(tell("caution.spread"))
        ends = ("caution.furniture", "caution.water", "caution.different")
        return (*told, *(tell(key) for key in ends))

    def _slab(self) -> list[str]:
        tensioned, foundation = self.book.property.post_tensioned, self.book.property.foundation
        if tensioned:
            return [self.teller.tell("caution.post-tensioned")]
        if tensioned is None and foundation in (None, "slab-on-ground"):
            return [self.teller.tell("caution.post-tension-unknown")]
        return []

    def _area(self, facts: AreaFacts) -> list[str]:
        """Return what took no part in one area."""
        area, shape = self.phrases.area(facts.area), facts.shape
        if isinstance(shape, TooFew) and facts.meant_level:
            return [self.teller.tell("caution.unmeasured", facts.id, area=area, **few(shape))]
        if not isinstance(shape, AreaShape):
            return []
        values = apart(facts, self.case.levels, shape)
        if values["left"] == "0":
            return []
        return [self.teller.tell("caution.disconnected", facts.id, area=area, **values)]


def _weight(facts: AreaFacts) -> tuple[int, float]:
    rules = decide(facts)
    size = 0.0 if facts.area is None else float(shapely.Polygon(facts.area.outline).area)
    return (ORDER.index(rules[0].outcome) if rules else -1), size
