"""Everything computed from one book: levels, shape, findings, screening and words."""

from collections.abc import Sequence
from dataclasses import dataclass

from levelbook.book import digest, notices
from levelbook.book.model import Book
from levelbook.findings.catalogue import builtin_sets, default_sets, named_set
from levelbook.findings.criteria import CriteriaSet
from levelbook.findings.facts import AreaFacts, gather
from levelbook.findings.garage import study_water
from levelbook.findings.judge import find
from levelbook.findings.model import Assessment, Finding, Outcome, Override, Screening, Water
from levelbook.findings.overrides import OUTCOME_KEY, Wishes, read_wishes, unknown_keys
from levelbook.findings.reasons import Case
from levelbook.findings.screening import screen, unanswered, without
from levelbook.findings.teller import Teller
from levelbook.findings.wording import load_wording
from levelbook.findings.words import Speech
from levelbook.floor import shape_floor
from levelbook.floor.model import Point
from levelbook.floor.shape import Floor
from levelbook.levels import reduce
from levelbook.levels.model import Levels


def assess(
    book: Book,
    *,
    criteria: Sequence[CriteriaSet] | None = None,
    language: str = "en",
    water: Sequence[Point] = (),
) -> Assessment:
    """Return everything computed from one book.

    Parameters
    ----------
    book : the visit.
    criteria : the sets to hold the floor against; by default those that fit the book.
    language : of the words; ``en`` comes with the program.
    water : further places on a garage floor to let water go from, beside the water heater.

    Raises
    ------
    UsageError
        If an instrument has no spread, there is no wording in the language, or a place in
        ``water`` lies on no garage floor.
    """
    sets = default_sets(book) if criteria is None else tuple(criteria)
    survey = _survey(book, sets, shown=True)
    wording = load_wording(language)
    findings = find(book, survey.floor, sets, wording)
    wishes = read_wishes(book, wording)
    case = _case(survey, sets, findings, wishes)
    teller = Teller(wording, wishes)
    titles = {each.id: each.title for each in (*builtin_sets(), *sets)}
    flow = study_water(book, survey.floor, water)
    words, reasons = Speech(book, case, teller, titles).words(findings, flow)
    lost = (*wishes.notices, *unknown_keys(wishes, words.sentences, wording))
    return Assessment(
        book=book,
        digest=digest(book),
        warnings=(*map(str, notices(book)), *lost),
        levels=survey.levels,
        floor=survey.floor,
        findings=findings,
        screening=Screening(case.outcome, reasons, words.cautions, _overruled(case, wishes)),
        words=words,
        sets=tuple(each.info for each in sets),
        water=flow,
        without={f.id: shape for f in case.facts if (shape := case.without(f)) is not None},
    )


@dataclass(frozen=True)
class Figures:
    """What :func:`assess` finds out, without what is only shown: no words and no drawings.

    ``outcome`` is the program's, ``overruled`` the inspector's where it differs.
    """

    levels: Levels
    floor: Floor
    findings: tuple[Finding, ...]
    outcome: Outcome
    overruled: Outcome | None
    water: Water


def figures(book: Book, *, criteria: Sequence[CriteriaSet] | None = None) -> Figures:
    """Return the figures of a book, the same as :func:`assess` gives, in less time.

    Raises
    ------
    UsageError
        If an instrument has no spread.
    """
    sets = default_sets(book) if criteria is None else tuple(criteria)
    survey, wording = _survey(book, sets, shown=False), load_wording()
    found = find(book, survey.floor, sets, wording)
    case = _case(survey, sets, found, read_wishes(book, wording))
    own = case.decision.outcome
    return Figures(
        levels=survey.levels,
        floor=survey.floor,
        findings=found,
        outcome=own,
        overruled=None if case.outcome == own else case.outcome,
        water=study_water(book, survey.floor),
    )


@dataclass(frozen=True)
class _Survey:
    """A book with its levels and shape."""

    book: Book
    levels: Levels
    floor: Floor


def _survey(book: Book, sets: Sequence[CriteriaSet], *, shown: bool) -> _Survey:
    """Return levels and shape; the steepest slope over the distance that the criteria ask."""
    asked = [
        row.min_apart.to(book.units.plan)
        for each in sets
        for row in each.criteria
        if row.min_apart is not None and row.kind == "movement"
    ]
    levels = reduce(book)
    apart = asked[0] if asked else None
    return _Survey(book, levels, shape_floor(book, levels, min_apart=apart, shown=shown))


def _facts(
    survey: _Survey, sets: Sequence[CriteriaSet], findings: Sequence[Finding]
) -> tuple[AreaFacts, ...]:
    """Return what the rules look at.

    They always look at the bend: where the sets chosen have no limit on it, by the figure of
    the ASCE Texas Section.
    """
    book, floor = survey.book, survey.floor
    rows = [row for each in sets for row in each.criteria]
    if any(row.quantity == "deflection ratio" and row.kind == "movement" for row in rows):
        return gather(book, floor, findings)
    texas = named_set("asce-texas")
    bend = tuple(row for row in texas.criteria if row.quantity == "deflection ratio")
    added = find(book, floor, [texas.model_copy(update={"criteria": bend})])
    return gather(book, floor, (*findings, *added))


def _case(
    survey: _Survey, sets: Sequence[CriteriaSet], findings: Sequence[Finding], wishes: Wishes
) -> Case:
    facts, suspects = _facts(survey, sets, findings), unanswered(survey.book, survey.floor)
    gone = without(survey.book, [s.reading for s in suspects])
    # Of the trial nothing is shown.
    trial = _survey(gone, sets, shown=False) if suspects else None
    alternative = None if trial is None else _alternative(trial, sets)
    decision = screen(facts, survey.levels, alternative)
    return Case(
        facts=facts,
        levels=survey.levels,
        decision=decision,
        outcome=wishes.outcome or decision.outcome,
        suspects=suspects,
        confirmed=tuple(s for s in survey.floor.suspects if s not in suspects),
        alternative=alternative,
        trial={} if trial is None else trial.floor.areas,
    )


def _alternative(trial: _Survey, sets: Sequence[CriteriaSet]) -> Outcome:
    """Return the outcome with the suspect readings left out."""
    findings = find(trial.book, trial.floor, sets)
    decision = screen(_facts(trial, sets, findings), trial.levels)
    return decision.provisional or decision.outcome


def _overruled(case: Case, wishes: Wishes) -> Override | None:
    """Return the inspector's replacement of the outcome, where it differs."""
    wish = wishes.by_key.get(OUTCOME_KEY)
    if wish is None or case.outcome == case.decision.outcome:
        return None
    return Override(OUTCOME_KEY, case.decision.outcome, wish.text, wish.reason, wish.by)
