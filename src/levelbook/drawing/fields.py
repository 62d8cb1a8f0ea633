"""The surfaces that a drawing shows, and the bands they are shown in.

A field is one area's values on a fine regular grid. Bands are chosen honestly: a step is
never finer than the readings or the surface can bear, and colours step by a fixed amount a
band, so that a floor that is nearly level also looks nearly level.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely import Polygon

from levelbook.book.model import Area, Book
from levelbook.drawing import colour
from levelbook.drawing.records import Array
from levelbook.drawing.source import Kind, Source, main_group, shapes
from levelbook.drawing.wording import decimals_for, nice_step
from levelbook.floor.shape import AreaShape

_MOST_BANDS = 11
_FULL_RAMP = 9


@dataclass(frozen=True, eq=False)
class Field:
    """One area's values: ``x`` (nx,), ``y`` (ny,), ``value`` and ``sd`` (ny, nx), plan units.

    Nodes away from the footprint are NaN. ``low`` and ``high`` bound the values, ``doubt``
    the standard errors within the footprint.
    """

    area: str
    group: str
    footprint: Polygon
    x: Array
    y: Array
    value: Array
    sd: Array
    inside: NDArray[np.bool_]
    low: float
    high: float
    doubt: float


@dataclass(frozen=True, slots=True)
class Bands:
    """Edges of the bands (n + 1,), their colours (n,), and every how many edges is heavy."""

    step: float
    edges: tuple[float, ...]
    colours: tuple[str, ...]
    index: int

    @property
    def decimals(self) -> int:
        """Decimals that the edges need."""
        return decimals_for(self.step)

    def is_index(self, level: float) -> bool:
        """Whether a contour at this level is drawn heavy."""
        return round(level / self.step) % self.index == 0


def footprint(area: Area) -> Polygon:
    """Return an area's outline with its holes."""
    return Polygon(area.outline, area.holes)


def plane(x: Array, y: Array, inside: NDArray[np.bool_], value: Array) -> Array:
    """Return the least-squares plane through the cells inside, on the whole grid (ny, nx)."""
    gx, gy = np.meshgrid(x - x.mean(), y - y.mean())
    design = np.column_stack([np.ones(gx.size), gx.ravel(), gy.ravel()])
    rows = inside.ravel()
    found, *_ = np.linalg.lstsq(design[rows], value.ravel()[rows], rcond=None)
    return np.asarray((design @ found).reshape(value.shape))


def field(area: Area, shape: AreaShape, kind: Kind) -> Field:
    """Return the field of one area for one kind of drawing."""
    grid = shape.grid
    value = grid.mean
    if kind == "error":
        value = grid.sd
    elif kind == "deflection":
        value = grid.mean - plane(grid.x, grid.y, grid.inside, grid.mean)
    inside = value[grid.inside]
    return Field(
        area.id,
        shape.group,
        footprint(area),
        grid.x,
        grid.y,
        value,
        grid.sd,
        grid.inside,
        float(inside.min()),
        float(inside.max()),
        float(grid.sd[grid.inside].max()),
    )


def fields(source: Source, kind: Kind) -> tuple[Field, ...]:
    """Return the fields of all areas with a surface."""
    areas = {area.id: area for area in source.book.areas}
    return tuple(field(areas[shape.area], shape, kind) for shape in shapes(source))


def has_low(item: Field, banded: Bands) -> bool:
    """Whether some contour closes on a low without meeting the walls."""
    inside = item.inside
    walls = inside & ~ndimage.binary_erosion(inside)
    for edge in banded.edges:
        if item.low < edge < item.high:
            parts, count = ndimage.label(inside & (np.nan_to_num(item.value) < edge))
            if count > len(np.setdiff1d(np.unique(parts[walls]), [0])):
                return True
    return False


def _least_step(book: Book, kind: Kind, found: Sequence[Field]) -> float:
    """Return the finest step worth drawing: the readings' resolution, the surface's own sd."""
    if kind == "error":
        return 0.01 if book.units.level == "in" else 0.2
    finest = min((i.resolution for i in book.instruments), default=0.1)
    doubt = float(np.median([np.nanmedian(f.sd) for f in found]))
    return max(finest, doubt) * (1 - 1e-9)


def _edges(low: float, high: float, step: float) -> tuple[float, ...]:
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return tuple(step * k for k in range(first, max(last, first + 1) + 1))


def _index(step: float) -> int:
    """Return every how many steps a contour is heavy, so that heavy ones are round and few."""
    return 4 if f"{step:.0e}"[0] == "5" else 5


def _bands(edges: tuple[float, ...], step: float, stops: colour.Stops) -> Bands:
    """Return bands coloured from the middle of a ramp outward, a fixed step each."""
    n = len(edges) - 1
    reach = max(_FULL_RAMP, n)
    at = [0.5 + (k - (n - 1) / 2) / reach for k in range(n)]
    return Bands(step, edges, colour.ramp(stops, at), _index(step))


def bands(source: Source, kind: Kind, found: Sequence[Field]) -> dict[str, Bands]:
    """Return the bands of every group; all share one step.

    The groups that hang on a zero of their own have a ramp of their own. Standard errors and
    deflections do not depend on a zero: there all groups share one.
    """
    if not found:
        return {}
    spans = _spans(found, together=kind != "levels", mirrored=kind == "deflection")
    widest = max(high - low for low, high in spans.values())
    step = nice_step(max(widest / _MOST_BANDS, _least_step(source.book, kind, found)))
    main = main_group(source)
    out = {}
    for group, (low, high) in spans.items():
        edges = _edges(low, high, step)
        if kind == "error":
            last = len(edges) - 1
            at = [k / max(_FULL_RAMP - 1, last - 1) for k in range(last)]
            out[group] = Bands(step, edges, colour.ramp(colour.ERROR, at), _index(step))
        else:
            stops = colour.APART if kind == "levels" and group != main else colour.LEVEL
            out[group] = _bands(edges, step, stops)
    return out


def _spans(
    found: Iterable[Field], *, together: bool, mirrored: bool
) -> dict[str, tuple[float, float]]:
    """Return lowest and highest value by group (of all for each, if together)."""
    spans: dict[str, tuple[float, float]] = {}
    for item in found:
        low, high = spans.get(item.group, (item.low, item.high))
        spans[item.group] = (min(low, item.low), max(high, item.high))
    if together:
        low, high = min(s[0] for s in spans.values()), max(s[1] for s in spans.values())
        if mirrored:
            high = max(abs(low), abs(high))
            low = -high
        spans = dict.fromkeys(spans, (low, high))
    return spans
