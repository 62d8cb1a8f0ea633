"""The ground outside on a plan: an arrow for each pair of readings, pointing downhill.

Ground that surely runs toward the wall has a bar across its arrow and says so in words, so
that it is told in black and white too.
"""

from collections.abc import Iterator
from math import hypot

import numpy as np

from levelbook.drawing import metrics, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.frame import Frame
from levelbook.drawing.labels import text_label
from levelbook.drawing.records import XY, Line, Pen, Record, Text
from levelbook.drawing.scene import Scene
from levelbook.drawing.signs import Sign
from levelbook.drawing.wording import NBSP
from levelbook.findings.display import slope_text
from levelbook.floor.grade import HELD, GradeFall, grade_falls

UNSURE = Pen(look.SOFT, 0.3, (1.4, 0.9))
AWAY, TOWARD = Pen(look.SOFT, 0.35), Pen(look.ALARM, 0.5)
_REACH = (12.0, 30.0, 60.0)


def falls(scene: Scene) -> tuple[GradeFall, ...]:
    """Return the pairs that a drawing shows: those of the book, on the plan of levels."""
    return grade_falls(scene.source.book) if scene.kind == "levels" else ()


def lines(scene: Scene, frame: Frame) -> Iterator[tuple[XY, XY]]:
    """Yield the arrows as they stand on the sheet, tail first."""
    for fall in falls(scene):
        a, b = frame.point(fall.at), frame.point(fall.out)
        yield (a, b) if fall.fall >= 0 else (b, a)


def arrows(scene: Scene, frame: Frame) -> Iterator[Record]:
    """Yield the arrow of each pair."""
    for fall, (tail, head) in zip(falls(scene), lines(scene, frame), strict=True):
        if sure(fall):
            yield from arrow(tail, head, negative=fall.negative)
        else:
            yield Line(tail, head, UNSURE, role="grade-unsure")


def sure(fall: GradeFall) -> bool:
    """Tell whether the readings say (95 %) which way the ground falls."""
    return abs(fall.fall) > HELD * fall.sd


def _said(fall: GradeFall) -> str:
    """Return what stands behind the figure where the ground does not surely fall away."""
    if fall.negative:
        return " to the house"
    return "" if sure(fall) else " (level?)"


def arrow(tail: XY, head: XY, *, negative: bool) -> tuple[Record, ...]:
    """Return one arrow; one that runs toward a wall has a bar across it."""
    if not negative:
        return symbols.arrow(tail, head, AWAY, 1.9)
    far = hypot(head[0] - tail[0], head[1] - tail[1]) or 1.0
    middle = 0.5 * np.add(tail, head)
    across = 1.3 * np.array([tail[1] - head[1], head[0] - tail[0]]) / far
    a, b = (tuple(map(float, middle + side * across)) for side in (-1.0, 1.0))
    bar = Line((a[0], a[1]), (b[0], b[1]), TOWARD, role="grade-bar")
    return (*symbols.arrow(tail, head, TOWARD, 2.2), bar)


def names(scene: Scene, frame: Frame) -> Iterator[Sign]:
    """Yield the slope of each pair with its ±, and whether water runs to the house."""
    for fall in falls(scene):
        shown, half = slope_text(abs(fall.slope), fall.slope_sd, "percent")
        name = metrics.shorten(metrics.clean(fall.id), scene.theme.small, 18.0, 600)
        said = f"{name}: {shown} ±{NBSP}{half}{NBSP}%" + _said(fall)
        tone = look.ALARM if fall.negative else look.INK
        a, b = frame.point(fall.at), frame.point(fall.out)
        at = (0.35 * a[0] + 0.65 * b[0], 0.35 * a[1] + 0.65 * b[1])
        text = Text((0.0, 0.0), said, scene.theme.small, tone, 600, role="grade")
        yield Sign(said, tuple(text_label(text, at, clear=1.2, reach=r) for r in _REACH))


def sample(at: XY, *, negative: bool) -> tuple[Record, ...]:
    """Return the arrow of the legend."""
    return arrow((at[0] - 2.4, at[1]), (at[0] + 2.4, at[1]), negative=negative)
