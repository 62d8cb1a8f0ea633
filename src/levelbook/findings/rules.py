"""The screening rules: a table, read from the top, the first that fits decides an area.

They follow what inspectors do in the trade (common practice) except where a source is named.
A rule describes and screens; none of them is a verdict on a structure.
"""

from collections.abc import Callable
from dataclasses import dataclass

from levelbook.findings.facts import AreaFacts
from levelbook.findings.model import Finding, Outcome

ORDER: tuple[Outcome, ...] = (
    "nothing unusual",
    "keep watching",
    "readings not sufficient",
    "ask an engineer",
)
"""Outcomes from lightest to gravest."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table; ``key`` is that of its sentence in the wording."""

    key: str
    outcome: Outcome
    fits: Callable[[AreaFacts], bool]


def _is(finding: Finding | None, *states: str) -> bool:
    return finding is not None and finding.state in states


def _bent(facts: AreaFacts) -> bool:
    return _is(facts.bend, "beyond", "too close to call")


def _bent_with_signs(facts: AreaFacts) -> bool:
    """Both a number and more than one sign, or as many as the criterion itself asks for."""
    needed = max(2, facts.bend.signs_needed if facts.bend else 0)
    return _is(facts.bend, "beyond") and len(facts.signs) >= needed


def _sloped_with_signs(facts: AreaFacts) -> bool:
    needed = facts.slope.signs_needed if facts.slope else 0
    enough = len(facts.signs) >= needed
    return _is(facts.slope, "beyond") and bool(facts.active) and enough


def beyond_slopes(facts: AreaFacts) -> list[Finding]:
    """Return the gravest findings on slope and on height that are beyond their limit."""
    return [f for f in (facts.slope, facts.height) if f is not None and f.state == "beyond"]


def _close(facts: AreaFacts) -> bool:
    return _is(facts.bend, "too close to call") or _is(facts.slope, "too close to call")


RULES: tuple[Rule, ...] = (
    # A crack both fresh and wide is shown to an engineer whatever the floor does (our own rule).
    Rule("reason.fresh-and-wide", "ask an engineer", lambda f: bool(f.urgent)),
    # Fresh or wide cracks with a matching bend.
    Rule("reason.bend-and-active", "ask an engineer", lambda f: _bent(f) and bool(f.matching)),
    # A number and more than one symptom: former 10 Texas Administrative Code ch. 304
    # (2005, no longer law); secondary. Used as a pattern, not as a rule of law.
    Rule("reason.bend-and-signs", "ask an engineer", _bent_with_signs),
    # A slope together with signs that are fresh or wide.
    Rule("reason.slope-and-active", "ask an engineer", _sloped_with_signs),
    # A number without symptoms asks for more information, it is no failure:
    # ASCE Texas Section; secondary.
    Rule("reason.bend-alone", "keep watching", lambda f: _is(f.bend, "beyond")),
    # A large slope without distress is watched, not condemned.
    Rule("reason.slope-alone", "keep watching", lambda f: bool(beyond_slopes(f))),
    # A fresh or wide sign without a bend that matches it.
    Rule("reason.active-alone", "keep watching", lambda f: bool(f.active)),
    # The interval of a bend or slope holds its limit.
    Rule("reason.close", "keep watching", _close),
    # Signs of unknown age, or repairs.
    Rule("reason.unsettled", "keep watching", lambda f: bool(f.unsettled)),
    # Measured, within every limit on bend and slope, and quiet.
    Rule("reason.ordinary", "nothing unusual", lambda f: f.judged),
    # Not measured, or not to be measured (a garage), and quiet.
    Rule("reason.ordinary-signs", "nothing unusual", lambda f: bool(f.signs)),
)


def decide(facts: AreaFacts) -> tuple[Rule, ...]:
    """Return the rule that decides an area and all others of that outcome that fit as well.

    Empty where nothing is known of the area.
    """
    fitting = [rule for rule in RULES if rule.fits(facts)]
    return tuple(rule for rule in fitting if rule.outcome == fitting[0].outcome)
