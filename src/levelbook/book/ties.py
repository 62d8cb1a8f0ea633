"""Which stations the readings connect, told from who was read with whom.

A *strand* is what one setup read on one finish: all of its readings share one unknown number.
Two strands that meet at a station are joined. Where the difference of two finishes is known
from one setup it is known for all, and so with two setups; strands joined by that are joined
too. This tells ties as a person would look for them; the adjustment has the last word.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable

from levelbook.book.faults import show
from levelbook.book.model import Area
from levelbook.book.survey import Notice, Survey, named

Strand = tuple[str, str]


class Joined:
    """Things joined two by two; ``root`` is the same for all that hang together."""

    def __init__(self) -> None:
        self._above: dict[Hashable, Hashable] = {}

    def root(self, thing: Hashable) -> Hashable:
        """Return the thing that stands for all that ``thing`` is joined with."""
        above = self._above.setdefault(thing, thing)
        while above != self._above[above]:
            self._above[thing] = self._above[above]
            thing, above = above, self._above[above]
        return above

    def join(self, things: Iterable[Hashable]) -> bool:
        """Join all ``things``; tell whether that joined anything new."""
        roots = {self.root(thing) for thing in things}
        first = next(iter(roots))
        for root in roots:
            self._above[root] = first
        return len(roots) > 1


def connected(survey: Survey) -> dict[Strand, Hashable]:
    """Return for each strand what stands for all strands that it is connected with."""
    strands = Joined()
    met: dict[str, set[Strand]] = defaultdict(set)
    for one in survey.standing:
        met[one.station].add((one.setup, one.finish))
    for together in met.values():
        strands.join(together)
    finishes, setups = Joined(), Joined()
    known = {strand for together in met.values() for strand in together}
    while True:
        for alike in _sharing(known, lambda s: (strands.root(s), setups.root(s[0]))):
            finishes.join(strand[1] for strand in alike)
        for alike in _sharing(known, lambda s: (strands.root(s), finishes.root(s[1]))):
            setups.join(strand[0] for strand in alike)
        groups = _sharing(known, lambda s: (setups.root(s[0]), finishes.root(s[1])))
        new = [strands.join(alike) for alike in groups]
        if not any(new):
            return {strand: strands.root(strand) for strand in known}


def _sharing(
    strands: Iterable[Strand], key: Callable[[Strand], Hashable]
) -> Iterable[list[Strand]]:
    """Return the strands that have the same ``key``, together."""
    found: dict[Hashable, list[Strand]] = defaultdict(list)
    for strand in strands:
        found[key(strand)].append(strand)
    return found.values()


def tie_notices(survey: Survey) -> list[Notice]:
    """Remark on areas, finishes and setups that nothing connects with the reference."""
    roots = connected(survey)
    by_area: dict[str, dict[Hashable, list[Strand]]] = defaultdict(lambda: defaultdict(list))
    for one in survey.standing:
        strand = (one.setup, one.finish)
        by_area[survey.stations[one.station].area][roots[strand]].append(strand)
    reference = next(
        (
            roots[one.setup, one.finish]
            for one in survey.standing
            if one.station == survey.book.reference.station
        ),
        None,
    )
    told = []
    for i, area in enumerate(survey.book.areas):
        parts = by_area.get(area.id, {})
        if parts:
            told += _area_notices(i, area, parts, reference)
    return told


def _area_notices(
    index: int, area: Area, parts: dict[Hashable, list[Strand]], reference: Hashable
) -> list[Notice]:
    """Remark on the parts of one area that stand apart."""
    told, place, name = [], f"areas[{index}]", show(area.id)
    main = reference if reference in parts else max(parts, key=lambda root: len(parts[root]))
    if main != reference:
        sentence = f"Nothing ties area {name} to the reference, so it has a zero of its own."
        remedy = "To compare the two, read one station from both, or both sides of the step."
        told.append(Notice("own-zero", place, sentence, remedy))
    for root, strands in parts.items():
        if root != main:
            told.append(_apart(place, name, strands, parts[main]))
    return told


def _apart(place: str, name: str, strands: list[Strand], main: list[Strand]) -> Notice:
    """Remark on one part of an area, by what would tie it to the rest."""
    setups = list(dict.fromkeys(setup for setup, _ in strands))
    if {setup for setup, _ in main}.isdisjoint(setups):
        sentence = f"In area {name} nothing ties {named('setup', setups)} to the other readings."
        remedy = "Read two stations again from both, or these stations stand apart."
        return Notice("untied-setup", place, sentence, remedy)
    finishes = list(dict.fromkeys(finish for _, finish in strands))
    finish = named("finish", finishes, "is", "are")
    sentence = f"In area {name} {finish} never read beside another of its finishes."
    remedy = "Read both at one doorway, or the height of the one above the other stays unknown."
    return Notice("unpaired-finish", place, sentence, remedy)
