"""Contours of every area of an assessment, for the files that carry them."""

from collections.abc import Iterator

from levelbook.findings.model import Assessment
from levelbook.floor.grid import contour_interval, contours
from levelbook.floor.model import Contour
from levelbook.floor.shape import AreaShape


def contour_lines(assessment: Assessment) -> Iterator[tuple[AreaShape, float, list[Contour]]]:
    """Yield each area that has a surface, the contour interval and its contours."""
    outlines = {area.id: area for area in assessment.book.areas}
    for name, shape in assessment.floor.areas.items():
        if isinstance(shape, AreaShape):
            area = outlines[name]
            interval = contour_interval(shape.range.value, assessment.book.units.level)
            lines = contours(shape.grid, area.outline, interval, holes=area.holes)
            yield shape, interval, list(lines)
