"""Names of areas and figures on contours: text that has a choice of many places."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import shapely

from levelbook.drawing import metrics
from levelbook.drawing import theme as look
from levelbook.drawing.contours import Contour
from levelbook.drawing.fields import footprint
from levelbook.drawing.frame import Frame
from levelbook.drawing.occupancy import Occupancy
from levelbook.drawing.records import XY, Array, Text
from levelbook.drawing.scene import Scene
from levelbook.drawing.wording import decimals_for, number
from levelbook.floor.model import TooFew

_EVERY = 5.0
_LEAST_RUN = 3.0
_APART = 90.0


def area_names(scene: Scene, frame: Frame, sheet: Occupancy) -> Iterator[Text]:
    """Yield the names of areas, and where needed that a zero is its own or readings too few."""
    book = scene.source.book
    if len(book.areas) < 2 and not any(
        isinstance(a, TooFew) for a in scene.source.floor.areas.values()
    ):
        return
    apart = {f.area for f in scene.fields if f.group != scene.main and scene.kind == "levels"}
    for area in book.areas:
        name = area.id if len(area.id) < 25 else area.id[:24] + "…"
        said = metrics.clean(name)
        if area.id in apart:
            said += " · own zero"
        elif isinstance(scene.source.floor.areas.get(area.id), TooFew):
            said += " · too few readings"
        polygon = frame.polygon(footprint(area))
        for size in (scene.theme.text, scene.theme.small, scene.theme.least):
            text = _inside(
                Text((0, 0), said, size, look.SOFT, 600, "middle", role="area"), polygon, sheet
            )
            if text is not None:
                yield text
                break


def _inside(text: Text, polygon: shapely.Polygon, sheet: Occupancy) -> Text | None:
    """Return the text at the best free place within a polygon, ``None`` where there is none."""
    up, down = metrics.extent(text.text)
    wide, tall = text.width + 1.0, (up + down) * text.size + 0.8
    x0, y0, x1, y1 = polygon.bounds
    if x1 - x0 < wide or y1 - y0 < tall:
        return None
    centre = polygon.centroid
    best: tuple[float, XY] | None = None
    for x, y in _centres(polygon, wide, tall):
        price = sheet.price((x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2))
        if price is None:
            continue
        price += 0.15 * float(np.hypot(x - centre.x, y - centre.y))
        if best is None or price < best[0]:
            best = (price, (x, y))
    if best is None:
        return None
    x, y = best[1]
    sheet.take((x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2), text=True)
    baseline = y + (up - down) * text.size / 2
    return Text(
        (x, baseline), text.text, text.size, text.colour, text.weight, "middle", role=text.role
    )


def _centres(polygon: shapely.Polygon, wide: float, tall: float) -> list[XY]:
    """Return centres of boxes, on a coarse grid, that lie wholly within a polygon."""
    x0, y0, x1, y1 = polygon.bounds
    xs = np.linspace(x0 + wide / 2, x1 - wide / 2, 14)
    ys = np.linspace(y0 + tall / 2, y1 - tall / 2, 22)
    x, y = (axis.ravel() for axis in np.meshgrid(xs, ys))
    boxes = shapely.box(x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2)
    shapely.prepare(polygon)
    within = shapely.contains(polygon, boxes)
    return list(zip(x[within].tolist(), y[within].tolist(), strict=True))


def contour_labels(scene: Scene, contours: Sequence[Contour], sheet: Occupancy) -> Iterator[Text]:
    """Yield figures on contours, the heavy and the long ones first, turned to read upright."""
    plus = scene.kind == "deflection"
    steps = {band.step for band in scene.bands.values()}
    decimals = decimals_for(min(steps)) if steps else 0
    for contour in sorted(contours, key=lambda c: (not c.index, -c.length)):
        said = number(contour.level, decimals, plus=plus)
        weight = 600 if contour.index else 400
        size = scene.theme.small
        room = metrics.width(said, size, weight) + 1.0
        for part in _parts(contour, room):
            text = _best(contour, part, Text((0, 0), said, size, look.INK, weight), sheet)
            if text is not None:
                sheet.take_turned(_grown(text))
                yield text


def _parts(contour: Contour, room: float) -> list[tuple[float, float]]:
    """Return the stretches of a contour that want one figure each."""
    if contour.length < _LEAST_RUN * room:
        return []
    count = max(1, round(contour.length / _APART))
    edges = np.linspace(0.0, contour.length, count + 1).tolist()
    return list(pairwise(edges))


def _grown(text: Text) -> Array:
    corners = text.corners()
    middle = corners.mean(axis=0)
    away = corners - middle
    return np.asarray(middle + away * (1 + 0.5 / np.hypot(*away.T)[:, None]))


def _best(contour: Contour, part: tuple[float, float], text: Text, sheet: Occupancy) -> Text | None:
    """Return the figure at the straightest free place of a stretch."""
    step = np.diff(contour.run, axis=0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
    half = text.width / 2 + 0.5
    first, last = max(part[0], half), min(part[1], contour.length - half)
    if last <= first:
        return None
    middle = (part[0] + part[1]) / 2
    best: tuple[float, Text] | None = None
    for s in np.linspace(first, last, max(2, int((last - first) / _EVERY) + 1)).tolist():
        at = np.array([s - half, s, s + half])
        x, y = (np.interp(at, along, contour.run[:, i]) for i in (0, 1))
        sag = abs((x[0] + x[2]) / 2 - x[1]) + abs((y[0] + y[2]) / 2 - y[1])
        if sag > 0.45 * text.size:
            continue
        turned = _turned(text, (float(x[1]), float(y[1])), float(x[2] - x[0]), float(y[2] - y[0]))
        price = sheet.price_turned(_grown(turned))
        if price is None:
            continue
        price += 12 * sag + 0.05 * abs(s - middle) + 0.06 * abs(turned.turn)
        if best is None or price < best[0]:
            best = (price, turned)
    return best[1] if best is not None else None


def _turned(text: Text, at: XY, dx: float, dy: float) -> Text:
    """Return the text centred on a contour and turned along it, never upside down."""
    turn = float(np.degrees(np.arctan2(dy, dx)))
    turn = (turn + 90.0) % 180.0 - 90.0
    drop = 0.345 * text.size
    t = np.radians(turn)
    place = (at[0] - drop * float(np.sin(t)), at[1] + drop * float(np.cos(t)))
    return Text(
        place, text.text, text.size, text.colour, text.weight, "middle", turn, "contour-label"
    )
