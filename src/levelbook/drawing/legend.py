"""The legend: only what is on the drawing, each with the words it needs."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

from levelbook.book.units import convert
from levelbook.drawing import grades, keys, metrics, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.layout import Block
from levelbook.drawing.records import XY, Pen, Record
from levelbook.drawing.scene import Scene
from levelbook.drawing.theme import Theme
from levelbook.drawing.wording import (
    NBSP,
    UNIT_WORDS,
    count,
    figure,
    half_width,
    number,
    ratio_words,
)

_CRACKS = {"crack", "separation"}


@dataclass(frozen=True, slots=True)
class Entry:
    """A symbol with its words; ``tall`` is the height that the symbol needs."""

    symbol: keys.SymbolAt
    text: str
    tall: float = 0.0


def blocks(
    scene: Scene,
    width: float,
    theme: Theme | None = None,
    *,
    thinned: bool = False,
    brief: bool = False,
) -> list[Block]:
    """Return the legend's blocks for a column of ``width`` millimetres.

    ``theme`` may set the legend smaller than the plan; ``thinned`` tells of bare dots;
    ``brief`` leaves out what a first look does not need.
    """
    if theme is not None:
        scene = replace(scene, theme=theme)
    heads = {"levels": _levels_head, "error": _error_head, "deflection": _deflection_head}
    book, theme = scene.source.book, scene.theme
    bar = keys.scale_bar(book.units, book.property.north, width, theme)
    if brief:
        ramp = list(heads[scene.kind](scene, width))[:1]
        rows = [*_stations(scene, thinned), *_zeros(scene), *list(_lines(scene))[:1]]
        rows += _signs(scene)
        return [bar, *ramp, *(keys.row(e.symbol, e.text, width, theme, e.tall) for e in rows)]
    entries = [*_stations(scene, thinned), *_zeros(scene), *_lines(scene), *_signs(scene)]
    return [
        bar,
        *heads[scene.kind](scene, width),
        *(keys.row(e.symbol, e.text, width, theme, e.tall) for e in entries),
    ]


def _levels_head(scene: Scene, width: float) -> Iterator[Block]:
    """Yield the ramps of all zeros and the downhill arrows."""
    book = scene.source.book
    word = UNIT_WORDS[book.units.level]
    for group, bands in scene.bands.items():
        text = f"Level in {word}; darker is lower"
        if group != scene.main:
            areas = ", ".join(f.area for f in scene.fields if f.group == group)
            text = f"{metrics.clean(areas)}: own zero, not to be compared; {word}"
        yield keys.ramp(bands, text, width, scene.theme)
    for shape in scene.shapes:
        name = metrics.clean(shape.area) if len(scene.shapes) > 1 else None
        yield keys.dial(shape.tilt, book, name, width, scene.theme)


def _error_head(scene: Scene, width: float) -> Iterator[Block]:
    word = UNIT_WORDS[scene.source.book.units.level]
    for bands in list(scene.bands.values())[:1]:
        text = f"Standard error of the floor’s level in {word}; darker is less sure"
        yield keys.ramp(bands, text, width, scene.theme)


def _deflection_head(scene: Scene, width: float) -> Iterator[Block]:
    """Yield the ramp and the lines that bend most."""
    units = scene.source.book.units
    for bands in list(scene.bands.values())[:1]:
        text = f"Floor with its tilt taken away, in {UNIT_WORDS[units.level]}; darker is lower"
        yield keys.ramp(bands, text, width, scene.theme, plus=True)
    for shape in scene.shapes:
        if shape.deflection is None:
            continue
        worst, places = shape.deflection, scene.decimals
        length = convert(worst.length, units.plan, units.level)
        name = f"{metrics.clean(shape.area)}: " if len(scene.shapes) > 1 else ""
        text = (
            f"{name}line that bends most: "
            f"{figure(worst.deflection, worst.sd, places, plus=True)} {units.level} over "
            f"{worst.length:.1f}{NBSP}{units.plan}, "
            f"{ratio_words(length, worst.deflection, worst.sd)}"
        )
        yield keys.row(keys.stroke(Pen(look.INK, 0.5)), text, width, scene.theme)


def _stations(scene: Scene, thinned: bool) -> Iterator[Entry]:
    """Yield what stations and their levels mean."""
    theme = scene.theme
    read = [spot for spot in scene.spots if spot.level is not None]
    dot = partial(symbols.station, radius=theme.dot)
    if read:
        yield Entry(dot, _known(scene) if scene.kind == "levels" else "station")
    if thinned:
        text = "dot without a number: no room here, its level is in the list of stations"
        yield Entry(dot, text)
    if any(spot.stray for spot in scene.spots):
        how = "level in brackets" if scene.kind == "levels" else "station"
        text = f"{how}: above another zero, no part of this floor's shape, does not compare"
        yield Entry(partial(symbols.stray, radius=theme.dot), text)
    roles = {spot.role for spot in scene.spots}
    if "struck" in roles:
        yield Entry(partial(symbols.cross, radius=theme.dot), "station whose reading is struck")
    if "unread" in roles:
        yield Entry(partial(symbols.hollow, radius=theme.dot * 1.2), "station not read")


def _known(scene: Scene) -> str:
    """Return what a station's number is, and how well the levels are known."""
    text = f"station, level in {UNIT_WORDS[scene.source.book.units.level]}"
    sds = [spot.sd for spot in scene.spots if spot.sd]
    if not sds:
        return text
    low, high = (half_width(sd, scene.decimals) for sd in (min(sds), max(sds)))
    between = f"{low} to {high}" if low != high else low
    return f"{text}; known to ±{NBSP}{between} (95{NBSP}%)"


def _zeros(scene: Scene) -> Iterator[Entry]:
    """Yield what the emphasised stations mean; they are emphasised among levels only."""
    if scene.kind != "levels":
        return
    theme = scene.theme
    extremes = {spot.extreme for spot in scene.spots}
    of = " of an area" if len(scene.shapes) > 1 else ""
    for up, key, word in ((True, "high", "highest"), (False, "low", "lowest")):
        if key in extremes:
            symbol = partial(symbols.extreme, size=theme.symbol, up=up)
            yield Entry(symbol, f"{word} station{of}")
    roles = {spot.role for spot in scene.spots}
    if "zero" in roles:
        yield Entry(partial(symbols.zero, size=theme.symbol * 0.9), "zero of the levels")
    if "own zero" in roles:
        symbol = partial(symbols.zero, size=theme.symbol * 0.9, apart=True)
        yield Entry(symbol, "own zero: not tied to the rest, its levels do not compare")
    if any(spot.suspect for spot in scene.spots):
        symbol = partial(symbols.doubt, radius=1.2)
        yield Entry(symbol, "? reading that does not fit; kept as written")


def _lines(scene: Scene) -> Iterator[Entry]:
    """Yield what the lines mean."""
    theme, book = scene.theme, scene.source.book
    for bands in list(scene.bands.values())[:1]:
        step = f"{bands.step:.{bands.decimals}f} {book.units.level}"
        pen = Pen(look.INK, theme.contour, opacity=0.75)
        yield Entry(keys.stroke(pen), f"contour every {step}{_heavy(scene)}")
        if scene.hollow:
            yield Entry(keys.low, "ticks point into a low")
        if scene.unsure:
            dashed = Pen(look.INK, theme.contour, (1.1, 0.7), opacity=0.75)
            yield Entry(keys.stroke(dashed), f"dashed: not known to within {step} (95{NBSP}%)")
    if any(area.vehicle_door for area in book.areas):
        yield Entry(keys.vehicle_door, "vehicle door")
    if book.sections and scene.kind != "error":
        yield Entry(keys.stroke(keys.SECTION), "section")
    ground = grades.falls(scene)
    if any(grades.sure(fall) and not fall.negative for fall in ground):
        words = f"ground outside: falls this way, with its slope (±, 95{NBSP}%)"
        yield Entry(partial(grades.sample, negative=False), words)
    if any(fall.negative for fall in ground):
        words = "with a bar: the ground falls toward the house"
        yield Entry(partial(grades.sample, negative=True), words, 2.6)
    if not all(grades.sure(fall) for fall in ground):
        words = "dashed, without a head: ground too near level to say which way"
        yield Entry(keys.stroke(grades.UNSURE), words)


def _heavy(scene: Scene) -> str:
    """Return which contours are heavy, if any is."""
    bands = next(iter(scene.bands.values()))
    levels = {e for every in scene.bands.values() for e in every.edges if bands.is_index(e)}
    if not levels:
        return ""
    if len({round(level / bands.step) for level in levels}) == 1:
        return f", heavy at {number(min(levels), bands.decimals)}"
    return f", heavy every {bands.index * bands.step:.{bands.decimals}f}"


def _signs(scene: Scene) -> Iterator[Entry]:
    """Yield what marks, signs of distress and places to read next mean."""
    book = scene.source.book
    size = scene.theme.symbol * 0.85
    for kind in dict.fromkeys(mark.kind for mark in book.marks if mark.kind in symbols.MARKS):
        words, symbol = symbols.MARKS[kind]
        yield Entry(partial(_sized, symbol, size), words, 2.0 * size)
    yield from _badges(scene)


def _badges(scene: Scene) -> Iterator[Entry]:
    """Yield what signs of distress and places to read next mean."""
    theme, book = scene.theme, scene.source.book
    if book.distress and scene.kind != "error":
        badge = partial(symbols.diamond, number="1", size=theme.small * 0.9)
        yield Entry(badge, "sign of distress, as listed", 2.1 * theme.small)
        if any(item.line and item.kind in _CRACKS for item in book.distress):
            yield Entry(keys.crack, "crack or separation")
    places = sum(len(shape.coverage.next) for shape in scene.shapes)
    if scene.kind == "error" and places:
        text = count(
            places,
            "place where one more reading would help most",
            "places where one more reading each would help most, in every area the best first",
        )
        badge = partial(symbols.next_place, number="1", size=theme.small * 0.85)
        yield Entry(badge, text, 2.6 * theme.small)


def _sized(symbol: symbols.Symbol, size: float, at: XY) -> tuple[Record, ...]:
    return symbol(at, size)
