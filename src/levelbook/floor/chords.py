"""Lines worth a profile: every straight wall, drawn sections, and the worst chord.

The worst chord is the one of smallest length over deflection, its ends at least a given
distance apart, and every point of it on the floor. It is sought on the mean of the fitted
surface: ends on a coarse net of places first, by interpolation, then by shrinking moves on
the surface itself. Because the posterior mean is drawn toward a plane where readings are
poor or far between, the largest of very many chords does not pick the largest error; the
sd given is that of the true deflection along this very chord (see ``profiles``), and no
claim is made that no other chord of the true floor is worse.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from levelbook.floor.footprint import Footprint
from levelbook.floor.model import Array
from levelbook.floor.profiles import Line, chord_removal
from levelbook.floor.surface import Surface

_COARSE = 13  # points along a chord in the search
_FINE = 21  # points along a chord in the refinement
_ENDS = 64  # places along the outline that a chord may start or end at, about
_INNER = 32  # places within the floor that it may start or end at, about
_NET = 900  # squares of the net that the mean is interpolated on, about


def wall_lines(place: Footprint, shortest: float) -> list[Line]:
    """Return the straight outer walls at least ``shortest`` long, along the outline itself.

    Neighbouring edges in line are one wall; a wall is taken whole, from corner to corner.
    """
    walls = place.walls
    long = np.hypot(*(walls[:, 1] - walls[:, 0]).T) >= shortest * (1 - 1e-9)
    return [_line(wall) for wall in walls[long]]


def clip_line(place: Footprint, line: Line, slack: float) -> Line | None:
    """Return the longest piece of a drawn line on the floor, or ``None``.

    A line that only runs within ``slack`` beside the floor, as one drawn along the outside
    of a wall does, counts as on it. A piece no longer than twice that is none.
    """
    drawn, size = shapely.LineString(line), max(place.extent)
    for margin in (1e-6 * size, slack):
        on = shapely.intersection(drawn, place.polygon.buffer(margin, join_style="mitre"))
        pieces = [p for p in shapely.get_parts(on) if p.length > max(2 * slack, 1e-3 * size)]
        if pieces:
            longest = max(pieces, key=lambda piece: float(piece.length))
            return _line(np.asarray(longest.coords)[[0, -1]])
    return None


def _line(ends: Array) -> Line:
    (a, b), (c, d) = ends.tolist()
    return (a, b), (c, d)


def worst_chord(surface: Surface, place: Footprint, shortest: float) -> Line | None:
    """Return the chord on the floor with the smallest length over deflection.

    The ends lie at least ``shortest`` apart; ``None`` where no chord fits.
    """
    field = _field(surface, place)
    floor = place.local.buffer(1e-7 * max(place.extent), join_style="mitre")
    shapely.prepare(floor)
    step = float(place.polygon.length) / _ENDS
    found = _search(field, floor, _ends(place, step), shortest)
    if found is None:
        return None
    for part in (0.5, 0.25, 0.125, 0.0625):
        found = _refine(field, floor, found, shortest, part * step)
    return _line(found @ place.axes)


@dataclass(frozen=True)
class _Field:
    """The mean of the surface on a net in the footprint's frame; ``level`` is (nx, ny)."""

    x: Array
    y: Array
    level: Array

    @cached_property
    def _spline(self) -> RectBivariateSpline:
        return RectBivariateSpline(self.x, self.y, self.level)

    def smooth(self, points: Array) -> Array:
        """Return the level at points (..., 2) by a cubic spline."""
        return np.asarray(self._spline.ev(points[..., 0], points[..., 1]))

    def squares(self, points: Array) -> Array:
        """Return points (..., 2) in squares of the net from its corner."""
        size = np.array([self.x[1] - self.x[0], self.y[1] - self.y[0]])
        return np.asarray((points - (self.x[0], self.y[0])) / size)

    def quick(self, u: Array, v: Array) -> Array:
        """Return the level at places told in squares, by bilinear interpolation; they are used up.

        The level within a square is ``a + b u + c v + d u v``.
        """
        i, j = u.astype(np.intp), v.astype(np.intp)
        np.clip(i, 0, len(self.x) - 2, out=i)
        np.clip(j, 0, len(self.y) - 2, out=j)
        u -= i
        v -= j
        i *= len(self.y) - 1
        i += j
        level, across, up, twist = self._bilinear
        mixed = twist.take(i)
        mixed *= u
        mixed += up.take(i)
        mixed *= v
        u *= across.take(i)
        mixed += u
        mixed += level.take(i)
        return mixed

    @cached_property
    def _bilinear(self) -> tuple[Array, Array, Array, Array]:
        """Return level, steps across and up, and twist of every square (nx · ny,)."""
        here, right = self.level[:-1, :-1], self.level[1:, :-1]
        above, far = self.level[:-1, 1:], self.level[1:, 1:]
        parts = here, right - here, above - here, far - above - right + here
        one, two, three, four = (np.ascontiguousarray(part).ravel() for part in parts)
        return one, two, three, four


def _field(surface: Surface, place: Footprint) -> _Field:
    """Return the surface's mean on a net of about ``_NET`` squares over the footprint."""
    side = float(np.sqrt(np.prod(place.extent) / _NET))
    x, y = (
        np.linspace(low, high, max(5, int(np.ceil((high - low) / side)) + 1))
        for low, high in place.bounds.T
    )
    nodes = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    mean = surface.mean(nodes.reshape(-1, 2) @ place.axes)
    return _Field(x, y, mean.reshape(len(x), len(y)))


def _ends(place: Footprint, step: float) -> Array:
    """Return places (k, 2) for the ends of chords: along all walls, and within the floor."""
    walls = np.concatenate([place.walls, place.hole_walls]) @ place.axes.T
    counts = np.ceil(np.hypot(*(walls[:, 1] - walls[:, 0]).T) / step).astype(int)
    along = [
        wall[0] + np.arange(n)[:, None] / n * (wall[1] - wall[0])
        for wall, n in zip(walls, counts, strict=True)
    ]
    inner = place.cells(_INNER).xy @ place.axes.T
    return np.concatenate([*along, inner])


def _search(field: _Field, floor: shapely.Polygon, ends: Array, shortest: float) -> Array | None:
    """Return the worst chord (2, 2) between the given places, in the footprint's frame."""
    first, second = np.triu_indices(len(ends), 1)
    length = np.hypot(*(ends[first] - ends[second]).T)
    far = length >= shortest * (1 - 1e-9)
    pairs = np.column_stack([first[far], second[far]])
    bending = _coarse_bending(field, ends, pairs) / length[far]
    order = np.argsort(-bending, kind="stable")
    for part in np.array_split(order, max(1, len(order) // 50)):
        chords = ends[pairs[part]]
        inside = _inside(floor, chords)
        if inside.any():
            return np.asarray(chords[int(np.argmax(inside))])
    return None


def _coarse_bending(field: _Field, ends: Array, pairs: NDArray[np.intp]) -> Array:
    """Return the largest offset (k,) from the chord between each pair (k, 2) of ends."""
    u, v = (np.ascontiguousarray(axis) for axis in field.squares(ends).T)
    level = field.quick(u.copy(), v.copy())
    first, second = pairs.T
    start, rise = level[first], level[second] - level[first]
    along, up = u[second] - u[first], v[second] - v[first]
    u, v = u[first], v[first]
    most = np.zeros(len(pairs))
    for t in np.linspace(0.0, 1.0, _COARSE)[1:-1].tolist():
        offset = field.quick(u + t * along, v + t * up)
        offset -= start + t * rise
        np.maximum(most, np.abs(offset, out=offset), out=most)
    return most


def _refine(
    field: _Field, floor: shapely.Polygon, chord: Array, shortest: float, step: float
) -> Array:
    """Return the worst of the chords (2, 2) with each end moved by at most one step."""
    moves = step * np.array([[i, j] for i in (0, -1, 1) for j in (0, -1, 1)])
    a, b = (m.ravel() for m in np.meshgrid(np.arange(9), np.arange(9), indexing="ij"))
    chords = chord + np.stack([moves[a], moves[b]], axis=1)
    length = np.hypot(*(chords[:, 1] - chords[:, 0]).T)
    allowed = (length >= shortest * (1 - 1e-9)) & _inside(floor, chords)
    allowed[0] = True
    chords = chords[allowed]
    return np.asarray(chords[int(np.argmax(_bending(field, chords)))])


def _inside(floor: shapely.Polygon, chords: Array) -> NDArray[np.bool_]:
    return np.asarray(shapely.covers(floor, shapely.linestrings(chords)))


def _bending(field: _Field, chords: Array) -> Array:
    """Return largest offset over length of each chord (k, 2, 2)."""
    along = np.linspace(0.0, 1.0, _FINE)[:, None]
    places = chords[:, :1] + along * (chords[:, 1:] - chords[:, :1])
    offset = field.smooth(places) @ chord_removal(_FINE).T
    return np.asarray(np.abs(offset).max(axis=1) / np.hypot(*(chords[:, 1] - chords[:, 0]).T))
