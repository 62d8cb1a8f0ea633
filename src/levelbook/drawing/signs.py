"""What is named or numbered on a plan besides its stations, and the places tried for each."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from levelbook.drawing import house, metrics, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.frame import Frame
from levelbook.drawing.labels import Label, Placed, place, text_label
from levelbook.drawing.occupancy import Occupancy
from levelbook.drawing.records import XY, Text
from levelbook.drawing.scene import Scene
from levelbook.drawing.stations import LEADER
from levelbook.drawing.wording import figure
from levelbook.floor.model import Profile

_NEAR, _FAR = 12.0, 60.0


@dataclass(frozen=True, slots=True)
class Sign:
    """Something to be named: what it is in words, and its label as tried one after the other."""

    words: str
    tries: tuple[Label, ...]


def set_down(signs: Iterable[Sign], sheet: Occupancy) -> tuple[list[Placed], list[str]]:
    """Place signs in order; return those placed, and the words of those without room."""
    placed, without = [], []
    for sign in signs:
        tried = (place(label, sheet, LEADER) for label in sign.tries)
        found = next((each for each in tried if each is not None), None)
        if found is None:
            without.append(sign.words)
        else:
            placed.append(found)
    return placed, without


def distress_numbers(scene: Scene, frame: Frame) -> Iterator[Sign]:
    """Yield the numbers of the signs of distress, in the order of the book."""
    for k, item in enumerate(scene.source.book.distress, 1):
        at = house.distress_at(item, frame)
        if at is not None and scene.kind != "error":
            yield _badge(at, str(k), scene.theme.small * 0.9, distress=True)


def places_to_read(scene: Scene, frame: Frame) -> Iterator[Sign]:
    """Yield the numbers of the places where a reading helps most, area after area."""
    if scene.kind == "error":
        places = [p.at for shape in scene.shapes for p in shape.coverage.next]
        for k, at in enumerate(places, 1):
            yield _badge(frame.point(at), str(k), scene.theme.small * 0.9, distress=False)


def _badge(at: XY, text: str, size: float, *, distress: bool) -> Sign:
    draw = symbols.diamond if distress else symbols.next_place
    side = size * (2.1 + 0.7 * (len(text) - 1)) if distress else 2 * (0.62 * size + 1.5)
    label = Label(at, side, side, lambda c: draw(c, text, size), centred=True, reach=_NEAR, pad=0.2)
    last = replace(label, reach=_FAR, through=True)
    return Sign(text, (label, replace(label, reach=_FAR), last))


def worst_lines(scene: Scene) -> tuple[Profile, ...]:
    """Return the lines that bend most, where the drawing is about them."""
    found = (shape.deflection for shape in scene.shapes)
    return tuple(line for line in found if line is not None and scene.kind == "deflection")


def worst_figures(scene: Scene, frame: Frame) -> Iterator[Sign]:
    """Yield the deflections of the lines that bend most."""
    for line in worst_lines(scene):
        said = figure(line.deflection, line.sd, scene.decimals, plus=True)
        yield _named(said, frame.point(line.at), "worst", scene.theme.strong, 1.2)


def section_names(scene: Scene, frame: Frame, near: Iterable[tuple[XY, float]]) -> Iterator[Sign]:
    """Yield the ids of the sections at their first ends.

    ``near`` are the stations on the sheet, each with the distance its symbol keeps.
    """
    symbols_near, theme = list(near), scene.theme
    for section in scene.source.book.sections:
        if scene.kind == "error":
            return
        said = metrics.shorten(metrics.clean(section.id), theme.text, 24.0, 600)
        x, y = at = frame.point(section.line[0])
        clear = [c for (px, py), c in symbols_near if abs(px - x) < 1.5 and abs(py - y) < 1.5]
        yield _named(said, at, "section-id", theme.text, max([0.8, *clear]) + 0.3)


def _named(said: str, at: XY, role: str, size: float, clear: float) -> Sign:
    """Return a name in bold, smaller and farther off where room is short."""
    tries = []
    for factor, reach in ((1.0, _NEAR), (0.8, 2 * _NEAR), (0.8, _FAR)):
        text = Text((0, 0), said, factor * size, look.INK, 600, role=role)
        tries.append(text_label(text, at, clear=clear, reach=reach))
    return Sign(said, (*tries, replace(tries[-1], through=True)))


def mark_words(scene: Scene, frame: Frame) -> Iterator[Sign]:
    """Yield the words of marks: their label, or their kind where no symbol says it."""
    theme = scene.theme
    for mark in scene.source.book.marks:
        known = symbols.MARKS[mark.kind][0] if mark.kind in symbols.MARKS else ""
        full = metrics.clean(mark.label or ("" if known else mark.kind.replace("-", " ")))
        if not full or full.casefold() == known:
            continue
        cut = metrics.shorten(full, theme.small, 17 * theme.small)
        more = full if cut != full else None
        text = Text((0, 0), cut, theme.small, look.SOFT, role="mark-label", full=more)
        at, clear = frame.point(mark.at), theme.symbol * 1.1
        tries = (text_label(text, at, clear=clear, reach=reach) for reach in (_NEAR, _FAR))
        yield Sign(full, tuple(tries))
