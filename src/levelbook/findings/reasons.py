"""Why the outcome is what it is: a sentence for every area, and for all that holds it back."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from levelbook.findings.facts import AreaFacts
from levelbook.findings.model import Finding, Outcome
from levelbook.findings.phrases import Phrases
from levelbook.findings.rules import ORDER, Rule, beyond_slopes
from levelbook.findings.screening import Decision, Held, Verdict, connected
from levelbook.findings.teller import Teller
from levelbook.floor.model import Suspect, TooFew
from levelbook.floor.shape import AreaShape
from levelbook.levels.model import Levels

OUTCOME_WORDS: dict[Outcome, str] = {
    "nothing unusual": "outcome.nothing-unusual",
    "keep watching": "outcome.keep-watching",
    "ask an engineer": "outcome.ask-an-engineer",
    "readings not sufficient": "outcome.readings-not-sufficient",
}


@dataclass(frozen=True)
class Case:
    """All that the words of one assessment draw on.

    ``trial`` has the areas' shapes without the readings that look like slips; it is empty
    where there are none. ``alternative`` is the outcome then.
    """

    facts: tuple[AreaFacts, ...]
    levels: Levels
    decision: Decision
    outcome: Outcome
    suspects: tuple[Suspect, ...]
    confirmed: tuple[Suspect, ...]
    alternative: Outcome | None
    trial: Mapping[str, AreaShape | TooFew]

    def area(self, name: str) -> AreaFacts:
        """Return the facts of an area by its id."""
        return next(f for f in self.facts if f.id == name)

    def without(self, facts: AreaFacts) -> AreaShape | None:
        """Return an area's shape without the suspects in it; ``None`` where there are none."""
        shape = self.trial.get(facts.id)
        inside = {s.id for s in facts.book.stations if s.area == facts.id}
        if isinstance(shape, AreaShape) and any(s.station in inside for s in self.suspects):
            return shape
        return None


class Reasons:
    """Tells the reasons of one case."""

    def __init__(self, case: Case, teller: Teller, phrases: Phrases) -> None:
        self.case, self.teller, self.phrases = case, teller, phrases

    def of_outcome(self) -> tuple[str, ...]:
        """Return every reason for the outcome and its holds, the deciding ones first."""
        decision = self.case.decision
        held = [self._held(h) for h in decision.holds]
        told = [self._rule(v.facts, r) for v in in_order(decision.verdicts) for r in v.rules]
        first = decision.outcome == "readings not sufficient"
        return tuple([*held, *told] if first else [*told, *held])

    def outcome(self, outcome: Outcome) -> str:
        """Return the word for an outcome."""
        return self.teller.part(OUTCOME_WORDS[outcome])

    def _rule(self, facts: AreaFacts, rule: Rule) -> str:
        phrases = self.phrases
        calm = [f for f in (facts.bend, facts.slope) if f is not None and f.value is not None]
        close = [f for f in calm if f.state == "too close to call"]
        values: Mapping[str, Callable[[], dict[str, str]]] = {
            "reason.fresh-and-wide": lambda: {"signs": phrases.signs(facts.urgent)},
            "reason.bend-and-active": lambda: {
                "bend": self._figure(facts.bend),
                "signs": phrases.signs(facts.matching),
            },
            "reason.bend-and-signs": lambda: {
                "bend": self._figure(facts.bend),
                "signs": phrases.signs(facts.signs),
            },
            "reason.slope-and-active": lambda: {
                "slope": self._figure(facts.slope),
                "signs": phrases.signs(facts.active),
            },
            "reason.bend-alone": lambda: {"bend": self._figure(facts.bend)},
            "reason.slope-alone": lambda: {"slope": phrases.figures(beyond_slopes(facts))},
            "reason.active-alone": lambda: {"signs": phrases.signs(facts.active)},
            "reason.close": lambda: {"close": phrases.figures(close)},
            "reason.unsettled": lambda: {"signs": phrases.signs(facts.unsettled)},
            "reason.ordinary": lambda: {"within": phrases.figures(calm)},
            "reason.ordinary-signs": dict,
        }
        area = phrases.area(facts.area)
        return self.teller.tell(rule.key, facts.id or "outside", area=area, **values[rule.key]())

    def _figure(self, finding: Finding | None) -> str:
        return "" if finding is None else self.phrases.figure(finding)

    def _held(self, held: Held) -> str:
        tell, alternative = self.teller.tell, self.case.alternative
        if held.kind == "no-floor":
            return tell("reason.hold-no-floor")
        if held.area:
            return self._held_area(held)
        readings = self.phrases.suspects(self.case.suspects)
        word = self.outcome(alternative or "readings not sufficient")
        return tell("reason.hold-suspects", readings=readings, outcome=word)

    def _held_area(self, held: Held) -> str:
        facts = self.case.area(held.area)
        area, shape = self.phrases.area(facts.area), facts.shape
        if not isinstance(shape, AreaShape):
            values = few(shape)
            return self.teller.tell("reason.hold-too-few", held.area, area=area, **values)
        if held.kind == "finish":
            values = apart(facts, self.case.levels, shape)
            return self.teller.tell("reason.hold-finish", held.area, area=area, **values)
        cover = shape.coverage
        return self.teller.tell(
            "reason.hold-cover",
            held.area,
            area=area,
            share=f"{100 * cover.share_beyond:.0f}",
            spacing=f"{cover.spacing:g}",
            plan=facts.book.units.plan,
        )

    def of_readings(self) -> tuple[str, ...]:
        """Return what is said of suspect readings that do not hold the outcome back."""
        told, case = [], self.case
        if case.suspects and not any(h.kind.startswith("suspects") for h in case.decision.holds):
            readings = self.phrases.suspects(case.suspects)
            told.append(self.teller.tell("reason.suspects-same", readings=readings))
        if case.confirmed:
            readings = self.phrases.suspects(case.confirmed)
            told.append(self.teller.tell("reason.confirmed", readings=readings))
        return tuple(told)


def in_order(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Return verdicts with the gravest outcome first, otherwise as in the book."""
    return sorted(verdicts, key=lambda v: -ORDER.index(v.outcome))


def few(shape: TooFew | None) -> dict[str, str]:
    """Return how many stations were read and are needed, as text."""
    if shape is None:
        return {"stations": "0", "needs": "0"}
    return {"stations": str(shape.stations), "needs": str(shape.needs)}


def apart(facts: AreaFacts, levels: Levels, shape: AreaShape) -> dict[str, str]:
    """Return how many stations of an area are left out and were read, as text."""
    read, left = connected(facts.book, levels, shape)
    return {"left": str(left), "read": str(read)}
