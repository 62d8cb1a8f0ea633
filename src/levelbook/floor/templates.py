"""Which simple shape the station levels show: shapes weighed against each other.

Each shape is a plane plus few columns, fitted to the levels by generalised least squares
with the levels' own covariance and the unevenness. They are compared by Schwarz's criterion
(Schwarz 1978, Annals of Statistics 6, 461) on a scale where the plane alone is 0 and more is
better. A shape that was picked from K of its kind pays ``2 ln K`` for the choice. Where even
the best shape leaves more than the error accounts for, all gains are scaled down by what it
leaves.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from levelbook.floor.footprint import Footprint
from levelbook.floor.model import Array, Point
from levelbook.floor.surface import Surface, inverse_factor

STRIPS = (0.15, 0.25, 0.35)
"""Widths of a strip that falls or rises, of the floor's extent away from its wall."""

REACHES = (0.2, 0.3, 0.4)
"""Reaches of a corner that falls or rises, of the floor's diagonal."""

FEWEST = 3
"""Stations that a strip or corner must hold."""

TemplateKind = Literal["quadratic", "edge", "corner"]


@dataclass(frozen=True, slots=True)
class Ramp:
    """A strip or corner: a column that rises from 0 at ``reach`` to 1 at ``place``."""

    kind: TemplateKind
    column: Array
    reach: float
    place: Point


@dataclass(frozen=True, slots=True)
class Template:
    """The best shape of one kind.

    ``score`` is twice the log of its Bayes factor against the plane, by Schwarz's
    criterion; ``explained`` the share it takes of what the plane leaves beyond error;
    ``size`` the level at the end of a ramp (+ up) and ``size_sd`` its sd, 0 for a quadratic.
    """

    kind: TemplateKind
    score: float
    explained: float
    size: float = 0.0
    ramp: Ramp | None = None
    size_sd: float = 0.0


@dataclass(frozen=True, slots=True)
class _Fit:
    kind: TemplateKind
    gain: float
    cost: float
    size: float = 0.0
    ramp: Ramp | None = None
    size_sd: float = 0.0


def weigh(surface: Surface, floor: Footprint, jog: float) -> tuple[Template, ...]:
    """Return the best shape of each kind, best first.

    Ramps run to the walls (at least ``jog`` long) and corners of the outline's hull.
    """
    xy, ramps = surface.xy, [*_strips(surface.xy, floor, jog), *_droops(surface.xy, floor, jog)]
    x, y = ((xy - xy.mean(axis=0)) / max(floor.extent)).T
    ones = np.ones(len(xy))
    columns = [surface.level, x * x, x * y, y * y, *(ramp.column for ramp in ramps)]
    left, *rest = _beyond_plane(surface, np.column_stack([ones, x, y]), np.array(columns).T).T
    basis, _ = np.linalg.qr(np.array(rest[:3]).T)
    price = math.log(len(xy))
    fits = [_Fit("quadratic", float(((basis.T @ left) ** 2).sum()), 3 * price)]
    for kind in ("edge", "corner"):
        own = [(r, c) for r, c in zip(ramps, rest[3:], strict=True) if r.kind == kind]
        if own:
            fits.append(_best_ramp(left, own, price))
    return _scored(fits, float(left @ left), len(xy) - 3)


def _beyond_plane(surface: Surface, plane: Array, columns: Array) -> Array:
    """Return columns (n, k) whitened by the error of the levels, their plane taken away."""
    floor = 1e-6 * float(np.ptp(surface.level)) + 1e-12
    error = surface.noise + (surface.hyper.unevenness**2 + floor**2) * np.eye(len(plane))
    whiten = inverse_factor(error)
    basis, _ = np.linalg.qr(whiten @ plane)
    white = whiten @ columns
    return np.asarray(white - basis @ (basis.T @ white))


def _best_ramp(left: Array, own: list[tuple[Ramp, Array]], price: float) -> _Fit:
    """Return the ramp of one kind that takes most of what the plane leaves."""
    columns = np.array([column for _, column in own])
    power = np.maximum((columns**2).sum(axis=1), 1e-300)
    sizes = columns @ left / power
    best = int(np.argmax(sizes**2 * power))
    ramp = own[best][0]
    cost = 2 * price + 2 * math.log(len(own))
    size, weight = float(sizes[best]), float(power[best])
    return _Fit(ramp.kind, size**2 * weight, cost, size, ramp, weight**-0.5)


def _scored(fits: list[_Fit], total: float, dof: int) -> tuple[Template, ...]:
    """Return the fits as templates, best first; ``total`` is what the plane leaves.

    An sd grows by what even the best shape leaves beyond the error, as the gains shrink.
    """
    spare = max(1, dof - 3)
    scale = max(1.0, min(max(total - fit.gain, 0.0) for fit in fits) / spare)
    beyond = max(total - dof, 1e-300)
    found = [
        Template(
            f.kind,
            f.gain / scale - f.cost,
            min(f.gain / beyond, 1.0),
            f.size,
            f.ramp,
            f.size_sd * math.sqrt(scale),
        )
        for f in fits
    ]
    return tuple(sorted(found, key=lambda template: -template.score))


def _strips(xy: Array, floor: Footprint, jog: float) -> Iterator[Ramp]:
    """Yield the strips along the walls of the hull."""
    corners = floor.walls[:, 0]
    for start, end in floor.walls:
        length = math.dist(start, end)
        inward = np.array([start[1] - end[1], end[0] - start[0]]) / length
        depth = float(((corners - start) @ inward).max())
        on_hull = ((corners - start) @ inward).min() > -1e-6 * depth
        if length >= jog and on_hull:
            middle = (start + end) / 2
            yield from _ramps("edge", (xy - start) @ inward, depth * np.array(STRIPS), middle)


def _droops(xy: Array, floor: Footprint, jog: float) -> Iterator[Ramp]:
    """Yield the corners of the hull."""
    hull = floor.polygon.convex_hull.exterior
    for corner in floor.corners(jog):
        if shapely.distance(hull, shapely.Point(*corner)) <= jog / 2:
            away = np.hypot(*(xy - corner).T)
            yield from _ramps("corner", away, math.hypot(*floor.extent) * np.array(REACHES), corner)


def _ramps(kind: TemplateKind, away: Array, reaches: Array, place: Array) -> Iterator[Ramp]:
    """Yield ramps with enough stations on them and off them."""
    for reach in reaches.tolist():
        column = np.maximum(0.0, 1.0 - away / reach)
        held = int((column > 0).sum())
        if FEWEST <= held <= len(away) - FEWEST:
            yield Ramp(kind, column, reach, (float(place[0]), float(place[1])))
