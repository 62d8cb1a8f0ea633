"""Pairs of readings of the ground outside: sane places, and replacements that can be meant."""

from collections.abc import Iterator

import shapely

from levelbook.book.draft import Draft
from levelbook.book.faults import Collector, Step, show
from levelbook.book.model import Grade
from levelbook.book.survey import Notice, Survey

_FAR_FEET, _FAR_METRES = 3.0, 1.0
_FIRST_FEET, _FIRST_METRES = 10.0, 3.0


def check_grades(draft: Draft, found: Collector) -> None:
    """Tell pairs without two places apart, and replacements that cannot be meant."""
    known = draft.by_id("grades", Grade)
    for i, grade in draft.each("grades", Grade):
        place = ("grades", i)
        if (grade.out is None) == (grade.distance is None):
            problem = "it gives no way out" if grade.out is None else "it gives two ways out"
            found.add("grade", place, problem, "give 'out' (a point) or 'distance', not both")
        elif grade.out == grade.at or grade.distance == 0:
            remedy = "give where it was read away from the wall"
            found.add("grade", place, "both readings are at one place", remedy)
        if grade.instead is not None:
            _check_instead(grade, (*place, "instead"), known, found)


def _check_instead(
    grade: Grade,
    place: tuple[Step, ...],
    known: dict[str, tuple[int, Grade]],
    found: Collector,
) -> None:
    """Tell a replacement of a pair that stands, or one that goes round in a circle."""
    if not grade.struck:
        remedy = 'write "struck": true as well, or remove it'
        found.add("instead", place, "only a struck pair has another instead", remedy)
    path, name = {grade.id}, grade.instead
    while name in known and name is not None:
        if name in path:
            if name == grade.id:
                problem = f"the pairs from {show(name)} on replace each other in a circle"
                found.add("instead", place, problem, "let the last one stand")
            return
        path.add(name)
        name = known[name][1].instead


def grade_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on pairs that do not begin at a wall, end on a floor, or are short."""
    book = survey.book
    feet = book.units.plan == "ft"
    far, first = (_FAR_FEET, _FIRST_FEET) if feet else (_FAR_METRES, _FIRST_METRES)
    house = shapely.union_all([shapely.Polygon(area.outline) for area in book.areas])
    for i, grade in enumerate(book.grades):
        if grade.struck:
            continue
        if house.boundary.distance(shapely.Point(grade.at)) > far:
            sentence = f"Grade {show(grade.id)} begins more than {survey.told(far)} from any wall."
            yield Notice("grade-place", f"grades[{i}].at", sentence, "Check where it was read.")
        if grade.out is not None and house.contains(shapely.Point(grade.out)):
            sentence = f"Grade {show(grade.id)} ends on a floor, not outside."
            yield Notice("grade-place", f"grades[{i}].out", sentence, "Check where it was read.")
        if grade.surface == "soil" and _length(grade) < 0.95 * first:
            sentence = f"Grade {show(grade.id)} is shorter than {survey.told(first)}."
            remedy = "Where the lot allows, read the whole distance that the code speaks of."
            yield Notice("grade-short", f"grades[{i}]", sentence, remedy)


def _length(grade: Grade) -> float:
    """Return how far apart both ends are, plan units."""
    if grade.out is None:
        return grade.distance or 0.0
    return float(shapely.distance(shapely.Point(grade.at), shapely.Point(grade.out)))
