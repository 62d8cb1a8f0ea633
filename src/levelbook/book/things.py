"""Sane figures and lines in the smaller parts: instruments, sections, signs of distress."""

import re
from collections.abc import Sequence

from levelbook.book.draft import Draft
from levelbook.book.faults import Collector, Step, show
from levelbook.book.model import Distress, Instrument, Photo, Point, Property, Section
from levelbook.book.numbers import parse_value

_SHA256 = re.compile(r"[0-9a-fA-F]{64}")
_YEARS = range(1000, 2201)

# Below this a figure is a slip, and its square is too small to divide by.
_SMALLEST = 1e-9


def check_property(draft: Draft, found: Collector) -> None:
    """Tell a direction beyond a full turn and a year that cannot be one."""
    house = draft.part("property", Property)
    if house is None:
        return
    if house.north is not None and abs(house.north) > 360:
        problem = f"{house.north:g} degrees is more than a full turn"
        found.add("range", ("property", "north"), problem, "write -360 to 360, clockwise")
    if house.year_built is not None and house.year_built not in _YEARS:
        problem = f"{show(house.year_built)} is not a year of building"
        found.add("range", ("property", "year_built"), problem, "write the year with four digits")


def check_instruments(draft: Draft, found: Collector) -> None:
    """Tell instruments without any uncertainty, or with a figure too small to mean anything."""
    for i, one in draft.each("instruments", Instrument):
        if one.sd == 0 and one.resolution == 0:
            problem = "sd and resolution are both 0: no reading is exact"
            remedy = "give the smallest step it shows as resolution, or the sd of one reading"
            found.add("instrument", ("instruments", i), problem, remedy)
        for field, value in (("sd", one.sd), ("resolution", one.resolution)):
            if 0 < value < _SMALLEST:
                remedy = "look for a slipped decimal point"
                found.add("range", ("instruments", i, field), f"{value:g} is too small", remedy)
        if one.reach == 0:
            remedy = "give the length of the cord, or leave it out"
            found.add("range", ("instruments", i, "reach"), "a reach of 0 reaches nothing", remedy)


def check_lines(draft: Draft, found: Collector) -> None:
    """Tell sections, walls and lines of distress without length."""
    for i, section in draft.each("sections", Section):
        _check_line(section.line, ("sections", i, "line"), found)
    for i, wall in enumerate_lists(draft, "walls"):
        _check_line(wall, ("walls", i), found)
    for i, sign in draft.each("distress", Distress):
        if sign.line is not None:
            _check_line(sign.line, ("distress", i, "line"), found)


def check_distress(draft: Draft, found: Collector) -> None:
    """Tell signs without a place, and widths below zero."""
    for i, sign in draft.each("distress", Distress):
        if sign.at is None and sign.line is None:
            remedy = "give 'at' (a point) or 'line' (points)"
            found.add("distress", ("distress", i), "it has no place", remedy)
        if sign.width is not None and parse_value(sign.width) < 0:
            problem = f"a width of {show(sign.width)} is below zero"
            found.add("range", ("distress", i, "width"), problem, "write how wide it is")


def check_photos(draft: Draft, found: Collector) -> None:
    """Tell hashes that are none, and file names that lead elsewhere."""
    for i, photo in draft.each("photos", Photo):
        if _SHA256.fullmatch(photo.sha256) is None:
            problem = f"{show(photo.sha256)} is not a SHA-256"
            found.add("photo", ("photos", i, "sha256"), problem, "give 64 hexadecimal digits")
        parts = photo.name.replace("\\", "/").split("/")
        if not parts[0] or ".." in parts or ":" in parts[0]:
            problem = f"{show(photo.name)} is not a file name"
            remedy = "give the name as it lies beside the document"
            found.add("photo", ("photos", i, "name"), problem, remedy)


def enumerate_lists(draft: Draft, key: str) -> list[tuple[int, Sequence[Point]]]:
    """Return index and points of the good entries of a list of lines."""
    return list(draft.lists.get(key, {}).items())


def _check_line(points: Sequence[Point], place: tuple[Step, ...], found: Collector) -> None:
    """Tell a line whose points are fewer than two or all in one place."""
    if len(set(points)) < 2:
        remedy = "give two points that are apart"
        found.add("line", place, "the line has no length", remedy)
