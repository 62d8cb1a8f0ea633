"""Bend: what is left of a floor once its tilt is taken away, and the word for it.

The numbers are the principal curvatures of the least-squares quadratic of the fitted surface
over the footprint, a linear functional; their sds are first order. The word has to earn its
place by rules of our own, told here and, with the figures, in ``why``:

``level``
    Tilt aside, the floor's highest place stands above its lowest by no more than the floor's
    shorter side over 1080 (a third of the deflection ratio 1/360), even at the upper end of
    the 95 % interval of that difference.
a shape
    A plane, a quadratic, a strip along one outer wall that falls or rises, and a corner that
    does so are weighed on the station levels (see ``templates``). One of the last three is
    taken only if it beats each other one by 6, strong evidence (Kass & Raftery 1995, J. Am.
    Stat. Assoc. 90, 773), and takes at least half of what the plane leaves beyond error.
the kind of quadratic
    From the sagittas across the floor in the two principal directions. Both told from 0, the
    lesser at least a quarter of the greater: dome or dish if alike in sign, else saddle. The
    greater told from 0 and the 95 % interval of the lesser within half of it: ridge or
    trough.
``not resolved``
    Everything else.
"""

import math
from dataclasses import dataclass

import numpy as np

from levelbook.book.model import Units
from levelbook.book.units import rise_per_run
from levelbook.floor.draws import draws
from levelbook.floor.footprint import Footprint, Sampled
from levelbook.floor.model import Array, Bend, BendWord
from levelbook.floor.scales import scales
from levelbook.floor.surface import Surface
from levelbook.floor.templates import Ramp, Template, weigh

BOUND = 1.96
LEVEL = 1080.0
MARGIN = 6.0
EXPLAINED = 0.5
LIKE = 0.25
SMALL = 0.5
PLACES = 80


@dataclass(frozen=True, slots=True)
class _Curve:
    """Principal curvatures, greater sagitta first: (2,) each; ``axis`` of the first."""

    curvature: Array
    sd: Array
    span: Array
    axis: float | None

    @property
    def sagitta(self) -> Array:
        """Rise of the middle above the ends over the floor's span, + hog."""
        return np.asarray(-self.curvature * self.span**2 / 8)

    @property
    def sagitta_sd(self) -> Array:
        """Standard deviations of the sagittas."""
        return np.asarray(self.sd * self.span**2 / 8)


def bend(surface: Surface, floor: Footprint, sampled: Sampled, units: Units) -> Bend:
    """Return the principal curvatures of a fitted floor and the word for its bend.

    ``sampled`` is the surface at pieces of the ``floor``.
    """
    curve = principal(floor, sampled)
    bound = tilt_free_bound(sampled)
    word, why = _word(surface, floor, curve, bound, units)
    (first, second), (sd, other) = curve.curvature.tolist(), curve.sd.tolist()
    return Bend(word, (first, second), (sd, other), curve.axis, why)


def hessian_weights(sampled: Sampled) -> Array:
    """Return weights (3, m) for ``zxx, zxy, zyy`` of the least-squares quadratic."""
    xy, share = sampled.cells.xy, sampled.cells.share
    scale = float(np.sqrt(np.ptp(xy, axis=0).prod()))
    x, y = ((xy - share @ xy) / scale).T
    basis = np.column_stack([np.ones_like(x), x, y, x * x / 2, x * y, y * y / 2])
    weighted = basis * share[:, None]
    return np.asarray(np.linalg.solve(basis.T @ weighted, weighted.T)[3:] / scale**2)


def principal(floor: Footprint, sampled: Sampled) -> _Curve:
    """Return the principal curvatures with sds, ordered by their sagitta over the floor."""
    weights = hessian_weights(sampled)
    xx, xy, yy = weights @ sampled.mean
    spread = weights @ sampled.covariance @ weights.T
    values, vectors = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]))
    corners = floor.walls[:, 0]
    parts = np.column_stack([vectors[0] ** 2, 2 * vectors[0] * vectors[1], vectors[1] ** 2])
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", parts, spread, parts), 0.0))
    span = np.ptp(corners @ vectors, axis=0)
    order = np.argsort(-np.abs(values) * span**2, kind="stable")
    x, y = vectors[:, order[0]]
    axis = None if not values.any() else math.degrees(math.atan2(x, y)) % 180.0
    return _Curve(values[order], sd[order], span[order], axis)


def tilt_free_bound(sampled: Sampled) -> float:
    """Return the upper end of the 95 % interval of highest less lowest, the plane removed.

    By joint draws at about ``PLACES`` of the pieces, those where the mean is highest and
    lowest among them.
    """
    xy, share = sampled.cells.xy, sampled.cells.share
    design = np.column_stack([np.ones(len(xy)), xy - share @ xy])
    weighted = design * share[:, None]
    solution = np.linalg.solve(design.T @ weighted, weighted.T)
    left = sampled.mean - design @ (solution @ sampled.mean)
    some = np.arange(0, len(xy), max(1, len(xy) // PLACES))
    some = np.union1d(some, [np.argmax(left), np.argmin(left)])
    weights = -design[some] @ solution
    weights[np.arange(len(some)), some] += 1
    drawn = draws(left[some], weights @ sampled.covariance @ weights.T)
    return float(np.quantile(np.ptp(drawn, axis=1), 0.975))


def _word(
    surface: Surface, floor: Footprint, curve: _Curve, bound: float, units: Units
) -> tuple[BendWord, str]:
    limit = floor.shorter_side / LEVEL / rise_per_run(units)
    if bound <= limit:
        return "level", (
            f"Tilt aside, high and low differ by at most {_size(bound, units)} (95 % bound), "
            f"within {_size(limit, units)}, the shorter side over {LEVEL:.0f}."
        )
    best, *others = weigh(surface, floor, scales(units.plan).jog)
    margin = best.score - max([0.0, *(other.score for other in others)])
    if margin < MARGIN:
        return "not resolved", (
            f"The readings favour {_NAMES[best.kind]} over the next best shape by only "
            f"{max(margin, 0.0):.1f}, where {MARGIN:.0f} is asked."
        )
    if best.explained < EXPLAINED:
        return "not resolved", (
            f"The best simple shape, {_NAMES[best.kind]}, takes only {best.explained:.0%} of the "
            "bend that the readings show."
        )
    if best.ramp is not None:
        return _ramp_word(best, best.ramp, units)
    return _curve_word(curve, units)


_NAMES = {"quadratic": "one bend over the whole floor", "edge": "one edge", "corner": "one corner"}


def _ramp_word(best: Template, ramp: Ramp, units: Units) -> tuple[BendWord, str]:
    verb = "rises" if best.size > 0 else "falls"
    x, y = ramp.place
    told = f"{_told(abs(best.size), BOUND * best.size_sd, units)} {units.level}"
    size = f"{told} over its last {ramp.reach:.3g} {units.plan}"
    if ramp.kind == "edge":
        place = f"The strip along the wall whose middle is at ({x:.3g}, {y:.3g})"
        return "one edge", f"{place} {verb} {size}; the rest is close to a plane."
    return "one corner", (
        f"The corner at ({x:.3g}, {y:.3g}) {verb} {size}; the rest is close to a plane."
    )


def _curve_word(curve: _Curve, units: Units) -> tuple[BendWord, str]:
    rise, sd = curve.sagitta, curve.sagitta_sd
    told = np.abs(rise) > BOUND * sd
    one, other = (_rise(float(r), float(BOUND * s), units) for r, s in zip(rise, sd, strict=True))
    why = f"Tilt aside, the middle stands {one} the edges one way and {other} them the other way."
    first, second = rise.tolist()
    if told.all() and abs(second) >= LIKE * abs(first):
        if first * second < 0:
            return "saddle", why
        return ("dome" if first > 0 else "dish"), why
    if told[0] and abs(second) + BOUND * sd[1] < SMALL * abs(first):
        return ("ridge" if first > 0 else "trough"), why
    return "not resolved", f"{why} That does not tell which kind of bend it is."


def _rise(rise: float, bound: float, units: Units) -> str:
    """Return a rise with its 95 % bound: how far above or below."""
    word = "below" if rise < 0 else "above"
    return f"{_told(abs(rise), bound, units)} {units.level} {word}"


def _told(value: float, half: float, units: Units) -> str:
    """Return a value with half of its interval, rounded up and never 0."""
    places = _places(units)
    steps = max(1, math.ceil(half * 10**places - 1e-9))
    return f"{value:.{places}f} ± {steps / 10**places:.{places}f}"


def _size(value: float, units: Units) -> str:
    """Return a size in level units to a hundredth of an inch or a tenth of a millimetre."""
    return f"{value:.{_places(units)}f} {units.level}"


def _places(units: Units) -> int:
    """Return the decimals that a size is told with."""
    return 2 if units.level == "in" else 1
