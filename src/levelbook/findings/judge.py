"""Criteria applied to what was measured: findings with their state."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from levelbook.book.model import Book, Distress
from levelbook.findings.catalogue import is_new
from levelbook.findings.criteria import CriteriaSet, Criterion
from levelbook.findings.measures import Measure, Place, Why, measure, missing, widest
from levelbook.findings.model import Finding, State
from levelbook.findings.quantities import factor
from levelbook.findings.signs import by_area, is_sign
from levelbook.findings.wording import Wording, load_wording
from levelbook.floor.grade import grade_falls
from levelbook.floor.shape import Floor

Z95 = 1.959963984540054
"""Half-width of a 95 % interval in standard deviations (normal distribution)."""


def state_of(
    value: float | None, sd: float | None, limit: float, *, at_least: bool = False
) -> State:
    """Return where a value stands against a limit, by its 95 % interval.

    Where ``at_least``, a value that reaches the limit is within, one below it beyond.

    The limit lies inside the interval, ends included, where it is too close to call. An
    exact value (``sd`` of ``None`` or 0) that equals the limit is within.
    """
    if value is None:
        return "not measured"
    if at_least:
        value, limit = -value, -limit
    half = Z95 * (sd or 0.0)
    if value + half < limit or (half == 0 and value <= limit):
        return "within"
    return "beyond" if value - half > limit else "too close to call"


def places(book: Book, floor: Floor) -> tuple[Place, ...]:
    """Return every area of the book that has a shape, or too few stations for one."""
    distress = by_area(book)
    return tuple(
        Place(book, area, floor.areas[area.id], distress[area.id])
        for area in book.areas
        if area.id in floor.areas
    )


def find(
    book: Book, floor: Floor, sets: Sequence[CriteriaSet], wording: Wording | None = None
) -> tuple[Finding, ...]:
    """Return a finding for every criterion and area where it applies, in the sets' order.

    ``wording`` is for the reasons in the notes, English unless given.
    """
    rooms, loose = places(book, floor), by_area(book)[None]
    words = wording or load_wording()
    found: list[Finding] = []
    for each in sets:
        for criterion in each.criteria:
            found += _of_criterion(_Rule(each, criterion, words), book, rooms, loose)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Rule:
    """A criterion, the set it comes from, and the words for its note."""

    set: CriteriaSet
    criterion: Criterion
    wording: Wording

    def note(self, why: Why | None) -> str:
        """Return the criterion's note, with why nothing was measured before it."""
        if why is None:
            return self.criterion.note
        reason = self.wording.say(why.key, why.values)
        lead = self.wording.say("note.not-measured", {"reason": reason})
        return f"{lead} {self.criterion.note}"


def _of_criterion(
    rule: _Rule, book: Book, rooms: Sequence[Place], loose: Sequence[Distress]
) -> Iterable[Finding]:
    criterion = rule.criterion
    why_not = _not_for(criterion, book)
    if why_not is not None:
        return [_finding(rule, None, why_not, ())]
    if criterion.quantity == "ground fall":
        return _grades(rule, book)
    if criterion.quantity == "crack width":
        return _cracks(rule, book, rooms, loose)
    return [
        _finding(rule, room, measure(criterion, room), room.distress)
        for room in rooms
        if _suits(criterion, room)
    ]


def _grades(rule: _Rule, book: Book) -> list[Finding]:
    """Return one finding for each pair of readings outside that the criterion is about."""
    criterion, surfaces = rule.criterion, rule.criterion.applies.surfaces
    scale = factor("ratio", criterion.unit)
    found = []
    for fall in grade_falls(book):
        if surfaces is None or fall.surface in surfaces:
            got = Measure(fall.slope * scale, fall.slope_sd * scale)
            finding = _finding(rule, None, got, ())
            place = rule.wording.say("note.grade", {"id": fall.id})
            found.append(replace(finding, note=f"{place} {finding.note}"))
    return found


def _cracks(
    rule: _Rule, book: Book, rooms: Sequence[Place], loose: Sequence[Distress]
) -> list[Finding]:
    """Return one finding for each area with a written width; one for none at all."""
    found = []
    for room in rooms:
        if _suits(rule.criterion, room):
            found.append(_finding(rule, room, measure(rule.criterion, room), room.distress))
    level = book.units.level
    outside = widest(loose, rule.criterion.unit, level)
    found.append(_finding(rule, None, outside, loose))
    measured = [f for f in found if f.value is not None]
    return [_stepped(f, rule) for f in measured] or found[-1:]


def _stepped(finding: Finding, rule: _Rule) -> Finding:
    """Return the finding against the step that its value falls in; 5 steps, 6 categories."""
    steps = rule.criterion.steps
    if not steps or finding.value is None:
        return finding
    limit = steps[min(sum(finding.value > step for step in steps), len(steps) - 1)]
    half = Z95 * (finding.sd or 0.0)
    low, high = (str(sum(finding.value + s * half > e for e in steps)) for s in (-1, 1))
    values = {"low": low} if low == high else {"low": low, "high": high}
    told = rule.wording.say("note.category" if low == high else "note.categories", values)
    state = state_of(finding.value, finding.sd, limit)
    if state == "within" and low != high:
        state = "too close to call"
    return replace(finding, limit=limit, state=state, note=f"{told} {finding.note}")


def _not_for(criterion: Criterion, book: Book) -> Measure | None:
    """Return why a criterion does not apply to the book, ``None`` where it does."""
    applies = criterion.applies
    foundation, purpose = book.property.foundation, book.visit.purpose
    if applies.foundation and foundation is not None and foundation not in applies.foundation:
        return missing("why.foundation", foundation=foundation)
    if applies.purpose and purpose is not None and purpose not in applies.purpose:
        return missing("why.purpose", purpose=purpose)
    if applies.new_house and not is_new(book):
        if book.property.year_built is None:
            return None if purpose == "baseline" else missing("why.year-unknown")
        return missing("why.not-new", year=str(book.property.year_built))
    return None


def _suits(criterion: Criterion, room: Place) -> bool:
    """Tell whether a criterion applies to one area."""
    applies, plan = criterion.applies, room.book.units.plan
    if room.area.kind not in applies.areas:
        return False
    if applies.across_over is not None and room.across <= applies.across_over.to(plan):
        return False
    return applies.across_to is None or room.across <= applies.across_to.to(plan)


def _finding(
    rule: _Rule, room: Place | None, got: Measure, distress: Sequence[Distress]
) -> Finding:
    criterion = rule.criterion
    signs = 0 if room is None else sum(is_sign(d, room.book.units.level) for d in distress)
    return Finding(
        id=criterion.id,
        set=rule.set.id,
        title=criterion.title,
        quantity=criterion.quantity,
        area=None if room is None else room.area.id,
        value=got.value,
        sd=got.sd,
        limit=criterion.limit,
        unit=criterion.unit,
        state=state_of(got.value, got.sd, criterion.limit, at_least=criterion.at_least),
        basis=criterion.basis,
        source=criterion.source,
        note=rule.note(got.why),
        kind=criterion.kind,
        secondary=criterion.secondary,
        signs_needed=criterion.needs_distress,
        signs=signs,
        at_least=criterion.at_least,
    )
