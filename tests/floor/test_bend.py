"""Bend: principal curvatures, and the word that the readings support."""

import math
import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from known_floors import ELL, RECTANGLE, ROUGH, exact, floor_of, lattice, moved, sampled, surface_of

from levelbook.book.model import Units
from levelbook.floor.bend import (
    _Curve,
    _curve_word,
    bend,
    hessian_weights,
    principal,
    tilt_free_bound,
)
from levelbook.floor.footprint import Cells, Sampled
from levelbook.floor.templates import REACHES, STRIPS, Template, weigh

FLOOR = floor_of(RECTANGLE)
INCHES = Units(level="in", plan="ft")
MILLIMETRES = Units(level="mm", plan="m")


def read(height, seed=0, hyper=ROUGH, outline=RECTANGLE):
    """Return a surface of about 50 readings of a height, with error and unevenness."""
    rng = np.random.default_rng(seed)
    xy = lattice(outline, 6.0) + 0.3
    xy = xy[[floor_of(outline).polygon.buffer(0.5).contains(p) for p in shapely.points(xy)]]
    error = np.hypot(0.05, 0.06) * rng.standard_normal(len(xy))
    return surface_of(xy, height(xy) + error, hyper, 0.06)


def read_as(word, seed=0, tilt=0.0):
    """Return readings of the floor of a word, with an amplitude that suits it."""
    hyper = type(ROUGH)(0.05, 15.0, 0.05) if word == "level" else ROUGH
    return read(lambda xy: FLOORS[word](xy) + tilt * u(xy), seed, hyper)


def bend_of(surface, floor=FLOOR, units=INCHES):
    return bend(surface, floor, sampled(surface, floor), units)


def u(xy):
    return (xy[:, 0] - 20) / 20


def v(xy):
    return (xy[:, 1] - 14) / 14


FLOORS = {
    "dome": lambda xy: -0.8 * u(xy) ** 2 - 0.6 * v(xy) ** 2,
    "dish": lambda xy: 0.8 * u(xy) ** 2 + 0.6 * v(xy) ** 2,
    "ridge": lambda xy: -1.0 * v(xy) ** 2,
    "trough": lambda xy: 1.0 * u(xy) ** 2,
    "saddle": lambda xy: 0.8 * u(xy) ** 2 - 0.8 * v(xy) ** 2,
    "one edge": lambda xy: -1.2 * np.maximum(0, 1 - xy[:, 1] / 9),
    "one corner": lambda xy: -1.2 * np.maximum(0, 1 - np.hypot(xy[:, 0] - 40, xy[:, 1]) / 14),
    "level": lambda xy: 0.02 * u(xy) ** 2,
}


@pytest.mark.parametrize("tilt", [0.0, 1.5])
@pytest.mark.parametrize("word", FLOORS)
def test_a_clear_floor_gets_its_word(word, tilt):
    """Each shape is named from 50 noisy readings, on a level floor and on a tilted one."""
    found = [bend_of(read_as(word, seed, tilt)) for seed in range(4)]
    assert [b.word for b in found] == [word] * 4


@pytest.mark.parametrize("word", ["one edge", "one corner"])
def test_edges_and_corners_may_rise_as_well(word):
    """The sign is told in the reason, and the place is right."""
    falls, rises = (bend_of(read(lambda xy, s=s: s * FLOORS[word](xy))) for s in (1, -1))
    assert (falls.word, rises.word) == (word, word)
    assert " falls " in falls.why
    assert " rises " in rises.why
    assert ("(20, 0)" if word == "one edge" else "(40, 0)") in falls.why


def test_too_little_to_go_on_is_not_resolved():
    """Eight readings of a rough floor support no word, nor that it is level."""
    rng = np.random.default_rng(1)
    xy = rng.uniform((0, 0), (40, 28), (8, 2))
    surface = surface_of(xy, rng.normal(0, 0.25, 8), ROUGH, 0.06)
    found = bend_of(surface)
    assert found.word == "not resolved"
    assert "6 is asked" in found.why


def test_no_simple_shape_is_not_resolved():
    """Waves that no template takes half of get no word though they are clear."""
    found = bend_of(read(lambda xy: 0.5 * np.sin(xy[:, 0] / 3) * np.cos(xy[:, 1] / 3)))
    assert found.word == "not resolved"


def test_level_asks_for_the_bound_and_not_for_the_estimate():
    """A flat floor known only loosely is not called level."""
    xy = lattice(step=14.0)
    loose = surface_of(xy, np.zeros(len(xy)), ROUGH, 0.3)
    assert bend_of(loose).word == "not resolved"
    sharp = surface_of(xy, np.zeros(len(xy)), type(ROUGH)(0.01, 15.0, 0.01), 0.01)
    found = bend_of(sharp)
    assert found.word == "level"
    assert "0.31 in" in found.why  # 28 ft over 1080


@pytest.mark.parametrize(("size", "word"), [(0.28, "level"), (0.34, "ridge")])
def test_the_limit_of_level_is_the_shorter_side_over_1080(size, word):
    """28 ft over 1080 is 0.311 in between high and low; on either side the word differs."""
    surface = exact(lambda xy: -size * v(xy) ** 2)
    assert bend_of(surface).word == word


def test_the_bound_of_level_is_seldom_passed():
    """Over floors of the model the true high less low lies under its bound 97.5 % of the time."""
    rng = np.random.default_rng(8)
    xy, cells = rng.uniform((0, 0), (40, 28), (30, 2)), FLOOR.cells(80)
    hyper = type(ROUGH)(0.1, 15.0, 0.05)
    places = np.concatenate([xy, cells.xy])
    kernel = surface_of(xy, np.zeros(30), hyper)._kernel(places, places)
    root = np.linalg.cholesky(kernel + 1e-10 * np.eye(len(places)))
    design = np.column_stack([np.ones(len(cells.xy)), cells.xy]) * np.sqrt(cells.share)[:, None]
    under = []
    for _ in range(400):
        floor = root @ rng.standard_normal(len(places)) + places @ [0.02, 0.03]
        level = floor[:30] + np.hypot(0.05, 0.06) * rng.standard_normal(30)
        known = Sampled(cells, *surface_of(xy, level, hyper, 0.06).joint(cells.xy))
        plane = np.linalg.lstsq(design, floor[30:] * np.sqrt(cells.share), rcond=None)[0]
        left = floor[30:] - np.column_stack([np.ones(len(cells.xy)), cells.xy]) @ plane
        under.append(np.ptp(left) <= tilt_free_bound(known))
    assert 0.95 <= np.mean(under) < 1.0


@pytest.mark.parametrize("angle", [0.0, 25.0, 90.0, 131.0])
def test_curvatures_of_a_quadratic_are_its_own(angle):
    """Exact for a quadratic, ordered by bend over the floor, with the axis clockwise from up."""
    outline = tuple(map(tuple, moved(RECTANGLE, angle, (7, -3)).tolist()))
    xy = moved(lattice(), angle, (7, -3))
    level = -0.004 * (lattice()[:, 0] - 9) ** 2 / 2 + 0.001 * lattice()[:, 1] ** 2 / 2
    surface = surface_of(xy, level)
    floor = floor_of(outline)
    curve = principal(floor, sampled(surface, floor, 600))
    assert curve.curvature == pytest.approx([-0.004, 0.001], abs=2e-5)
    assert curve.span == pytest.approx([40.0, 28.0])
    assert curve.sagitta == pytest.approx([0.004 * 1600 / 8, -0.001 * 784 / 8], abs=4e-3)
    assert (curve.axis - (90 - angle) + 90) % 180 - 90 == pytest.approx(0.0, abs=0.5)


def test_a_plane_has_no_curvature_to_speak_of():
    """Weights of the second derivatives pay no heed to a plane, and a hair to rounding."""
    surface = exact(lambda xy: xy @ [0.3, -0.2] + 5)
    found = sampled(surface, FLOOR)
    assert np.abs(hessian_weights(found) @ found.mean).max() < 1e-12
    flat = Sampled(found.cells, np.zeros_like(found.mean), found.covariance)
    assert principal(FLOOR, flat).axis is None


def test_curvature_sds_are_those_of_the_weights():
    """On curvatures along the sheet's axes the sds are those of zxx and zyy."""
    surface = read(FLOORS["dome"])
    known = sampled(surface, FLOOR)
    weights = hessian_weights(known)
    hessian, spread = weights @ known.mean, weights @ known.covariance @ weights.T
    curve = principal(FLOOR, known)
    angle = math.radians(90 - curve.axis)
    c, s = math.cos(angle), math.sin(angle)
    part = np.array([c * c, 2 * c * s, s * s])
    assert curve.curvature[0] == pytest.approx(part @ hessian)
    assert curve.sd[0] == pytest.approx(math.sqrt(part @ spread @ part))
    part = np.array([s * s, -2 * c * s, c * c])
    assert curve.curvature[1] == pytest.approx(part @ hessian)
    assert curve.sd[1] == pytest.approx(math.sqrt(part @ spread @ part))
    assert curve.sagitta_sd == pytest.approx(curve.sd * curve.span**2 / 8)


def test_intervals_of_curvature_cover():
    """Over floors of the model the 95 % interval of zxx covers its true least-squares value."""
    rng = np.random.default_rng(6)
    xy, cells = rng.uniform((0, 0), (40, 28), (40, 2)), FLOOR.cells(80)
    places = np.concatenate([xy, cells.xy])
    surface = surface_of(xy, np.zeros(40), ROUGH, 0.06)
    root = np.linalg.cholesky(surface._kernel(places, places) + 1e-10 * np.eye(len(places)))
    covered = []
    for _ in range(200):
        floor = root @ rng.standard_normal(len(places))
        level = floor[:40] + np.hypot(0.05, 0.06) * rng.standard_normal(40)
        known = Sampled(cells, *surface_of(xy, level, ROUGH, 0.06).joint(cells.xy))
        weights = hessian_weights(known)
        off = weights @ (known.mean - floor[40:])
        sd = np.sqrt(np.diag(weights @ known.covariance @ weights.T))
        covered.append(np.abs(off) <= 1.96 * sd)
    assert 0.92 <= np.mean(covered) <= 0.98


@given(st.floats(0, 360), st.sampled_from(sorted(FLOORS)), st.floats(-9, 9))
@settings(max_examples=16)
def test_the_word_turns_with_the_sheet(angle, word, rise):
    """Turning the plan and raising the floor change neither word nor curvatures."""
    still_surface = read_as(word)
    hyper = still_surface.hyper
    still = bend_of(still_surface)
    outline = tuple(map(tuple, moved(RECTANGLE, angle, (50, 20)).tolist()))
    surface = surface_of(
        moved(still_surface.xy, angle, (50, 20)), still_surface.level + rise, hyper, 0.06
    )
    there = bend_of(surface, floor_of(outline))
    assert there.word == still.word
    assert there.curvatures == pytest.approx(still.curvatures, rel=1e-5, abs=1e-9)
    assert there.curvature_sds == pytest.approx(still.curvature_sds, rel=1e-5)


@pytest.mark.parametrize("word", FLOORS)
def test_the_word_does_not_depend_on_units(word):
    """In millimetres and metres the same floor has the same word, and its own figures."""
    inches = read_as(word)
    hyper = type(ROUGH)(inches.hyper.amplitude * 25.4, 15.0 * 0.3048, 0.05 * 25.4)
    metric = surface_of(inches.xy * 0.3048, inches.level * 25.4, hyper, 0.06 * 25.4)
    outline = tuple((0.3048 * x, 0.3048 * y) for x, y in RECTANGLE)
    found, same = bend_of(metric, floor_of(outline), MILLIMETRES), bend_of(inches)
    assert found.word == same.word
    assert "mm" in found.why or "in" not in same.why.split()
    factor = 25.4 / 0.3048**2
    assert found.curvatures == pytest.approx([factor * c for c in same.curvatures], rel=1e-6)


def test_a_dip_in_the_middle_of_a_wall_is_no_edge():
    """A strip must fall along its wall: a local dip is not called one edge."""
    local = lambda xy: -1.0 * np.exp(-((xy[:, 0] - 20) ** 2 + xy[:, 1] ** 2) / 40)  # noqa: E731
    assert bend_of(read(local)).word == "not resolved"


def test_the_edge_of_an_l_is_found():
    """The strip along one end of an L-shaped floor is told from its other shapes."""
    falls = lambda xy: -1.0 * np.maximum(0, 1 - xy[:, 0] / 10)  # noqa: E731
    found = bend_of(read(falls, outline=ELL), floor_of(ELL))
    assert found.word == "one edge"
    assert "(0, 15)" in found.why


def test_scores_follow_schwarz():
    """The quadratic's score is the fall in chi-square, less three times log n."""
    surface = read(FLOORS["dome"], hyper=ROUGH)
    best = {t.kind: t for t in weigh(surface, FLOOR, 3.0)}["quadratic"]
    xy, n = surface.xy - surface.xy.mean(axis=0), len(surface.xy)
    x, y = xy.T / 40
    sd = math.hypot(0.05, 0.06)
    plane = np.column_stack([np.ones(n), x, y]) / sd
    both = np.column_stack([plane, x * x / sd, x * y / sd, y * y / sd])
    left = [
        np.sum(
            (surface.level / sd - a @ np.linalg.lstsq(a, surface.level / sd, rcond=None)[0]) ** 2
        )
        for a in (plane, both)
    ]
    scale = max(1.0, left[1] / (n - 6))
    assert best.score == pytest.approx((left[0] - left[1]) / scale - 3 * math.log(n), rel=1e-6)
    assert best.explained == pytest.approx(min(1.0, (left[0] - left[1]) / (left[0] - (n - 3))))


def test_hessian_weights_heed_the_shares():
    """Least squares with unequal weights, as NumPy's own solver has it."""
    rng = np.random.default_rng(5)
    xy, share = rng.uniform((0, 0), (40, 28), (30, 2)), rng.dirichlet(np.full(30, 0.7))
    level = rng.standard_normal(30)
    known = Sampled(Cells(xy, share), level, np.eye(30))
    x, y = xy.T
    design = np.column_stack([np.ones(30), x, y, x * x / 2, x * y, y * y / 2])
    root = np.sqrt(share)
    want = np.linalg.lstsq(design * root[:, None], level * root, rcond=None)[0][3:]
    assert hessian_weights(known) @ level == pytest.approx(want, rel=1e-6)


def test_the_first_curvature_bends_the_floor_more_over_its_extent():
    """A slighter curvature along the long way counts more than a sharper one across."""
    surface = exact(lambda xy: 0.0012 * xy[:, 0] ** 2 / 2 - 0.002 * xy[:, 1] ** 2 / 2)
    curve = principal(FLOOR, sampled(surface, FLOOR, 600))
    assert curve.curvature == pytest.approx([0.0012, -0.002], abs=2e-5)
    assert curve.axis == pytest.approx(90.0, abs=0.5)


def test_the_bound_takes_in_the_highest_and_lowest_place(monkeypatch):
    """However few places are drawn at, the mean's own high and low are among them."""
    monkeypatch.setattr("levelbook.floor.bend.PLACES", 3)
    xy = lattice()
    peaks = np.exp(-((xy[:, 0] - 12) ** 2 + (xy[:, 1] - 8) ** 2) / 20) - np.exp(
        -((xy[:, 0] - 28) ** 2 + (xy[:, 1] - 20) ** 2) / 20
    )
    known = sampled(surface_of(xy, peaks), FLOOR)
    assert tilt_free_bound(known) > 1.6


def curve_of(sagitta, sd):
    span = np.array([40.0, 28.0])
    rise, doubt = np.array(sagitta), np.array(sd)
    return _Curve(-rise * 8 / span**2, doubt * 8 / span**2, span, 90.0)


@pytest.mark.parametrize(
    ("sagitta", "sd", "word"),
    [
        ((1.0, 0.3), (0.1, 0.1), "dome"),
        ((-1.0, -0.3), (0.1, 0.1), "dish"),
        ((1.0, -0.3), (0.1, 0.1), "saddle"),
        ((-1.0, 0.3), (0.1, 0.1), "saddle"),
        ((1.0, 0.24), (0.1, 0.1), "ridge"),
        ((-1.0, 0.24), (0.1, 0.1), "trough"),
        ((1.0, 0.1), (0.1, 0.21), "not resolved"),
        ((1.0, 0.1), (0.1, 0.20), "ridge"),
        ((1.0, 0.45), (0.1, 0.25), "not resolved"),
        ((1.0, 0.0), (0.52, 0.1), "not resolved"),
    ],
)
def test_kinds_of_quadratic_by_their_sagittas(sagitta, sd, word):
    """Each rule on either side of its limits: told from 0, a quarter alike, surely under half."""
    found, why = _curve_word(curve_of(sagitta, sd), INCHES)
    assert found == word
    half = math.ceil(196 * sd[0] - 1e-9) / 100
    one = f"{abs(sagitta[0]):.2f} ± {half:.2f} in {'above' if sagitta[0] > 0 else 'below'}"
    assert one in why


def test_an_interval_is_rounded_up_and_never_none():
    """What is told of a bend never looks surer than it is."""
    _, why = _curve_word(curve_of((1.0, 0.3), (0.052, 0.0001)), INCHES)
    assert "1.00 ± 0.11 in above" in why
    assert "0.30 ± 0.01 in above" in why


def test_figures_are_told_in_the_units_of_the_book():
    """Hundredths of an inch, tenths of a millimetre."""
    _, why = _curve_word(curve_of((12.34, -3.0), (1.0, 0.5)), MILLIMETRES)
    assert "12.3 ± 2.0 mm above" in why
    assert "3.0 ± 1.0 mm below" in why


@pytest.mark.parametrize(
    ("scores", "explained", "word"),
    [
        ((30.0, 23.9, 1.0), 0.9, "dome"),
        ((30.0, 24.1, 1.0), 0.9, "not resolved"),
        ((6.1, -5.0, -9.0), 0.9, "dome"),
        ((5.9, -5.0, -9.0), 0.9, "not resolved"),
        ((30.0, 1.0, 0.0), 0.51, "dome"),
        ((30.0, 1.0, 0.0), 0.49, "not resolved"),
    ],
)
def test_a_shape_must_win_clearly_and_explain_most(monkeypatch, scores, explained, word):
    """It beats the next best and the plane by 6, and takes half of what the plane leaves."""
    kinds = ("quadratic", "edge", "corner")
    made = tuple(Template(k, s, explained) for k, s in zip(kinds, scores, strict=True))
    monkeypatch.setattr("levelbook.floor.bend.weigh", lambda *_: made)
    assert bend_of(read(FLOORS["dome"])).word == word


HULLS = {
    "edge": [((0, 0), (40, 0)), ((40, 0), (40, 14)), ((22, 30), (0, 30)), ((0, 30), (0, 0))],
    "corner": [(0, 0), (40, 0), (40, 14), (22, 30), (0, 30)],
}


@pytest.mark.parametrize("kind", ["edge", "corner"])
def test_ramps_are_scored_as_a_plain_loop_scores_them(kind):
    """Every strip and corner of an L's hull tried by plain least squares: best score and size."""
    waves = lambda xy: 0.3 * np.sin(xy[:, 0] / 6) - 0.5 * np.maximum(0, 1 - xy[:, 0] / 9)  # noqa: E731
    surface = read(waves, outline=ELL)
    xy, n, sd = surface.xy, len(surface.xy), math.hypot(0.05, 0.06)

    def left(columns):
        fit = np.linalg.lstsq(columns, surface.level, rcond=None)[0]
        return float(np.sum((surface.level - columns @ fit) ** 2)) / sd**2, fit[-1]

    def spread(columns):
        return sd * math.sqrt(np.linalg.inv(columns.T @ columns)[-1, -1])

    plane = np.column_stack([np.ones(n), xy])
    total, _ = left(plane)
    tried = []
    for place in HULLS[kind]:
        if kind == "edge":
            (ax, ay), (bx, by) = place
            away = (-(by - ay) * (xy[:, 0] - ax) + (bx - ax) * (xy[:, 1] - ay)) / math.hypot(
                bx - ax, by - ay
            )
            depth = 30.0 if ay == by else 40.0
            reaches, middle = depth * np.array(STRIPS), ((ax + bx) / 2, (ay + by) / 2)
        else:
            away, middle = np.hypot(*(xy - place).T), place
            reaches = 50.0 * np.array(REACHES)
        for reach in reaches:
            column = np.maximum(0, 1 - away / reach)
            if 3 <= (column > 0).sum() <= n - 3:
                rest, size = left(np.column_stack([plane, column]))
                own = spread(np.column_stack([plane, column]))
                tried.append((total - rest, size, reach, middle, own))
    gain, size, reach, middle, own = max(tried)
    found = {t.kind: t for t in weigh(surface, floor_of(ELL), 3.0)}
    best = found[kind]
    assert best.size == pytest.approx(size, rel=1e-6)
    assert best.ramp.reach == pytest.approx(reach)
    assert best.ramp.place == pytest.approx(middle)
    x, y = (xy - xy.mean(axis=0)).T / 40
    rest = [left(np.column_stack([plane, x * x, x * y, y * y]))[0], total - gain]
    assert len(tried) >= 8
    others = [t for t in found.values() if t.kind not in ("quadratic", kind)]
    scale = gain / (best.score + 2 * math.log(n) + 2 * math.log(len(tried)))
    assert scale >= 1.0 - 1e-9
    assert scale <= max(1.0, min(rest) / (n - 6)) * (1 + 1e-6)
    assert best.size_sd == pytest.approx(own * math.sqrt(scale), rel=1e-5)
    quadratic = found["quadratic"].score
    assert quadratic == pytest.approx((total - rest[0]) / scale - 3 * math.log(n), rel=1e-5)
    assert best.explained == pytest.approx(min(1.0, gain / (total - (n - 3))))
    assert others


@pytest.mark.parametrize("word", ["one corner", "one edge"])
def test_the_size_of_a_ramp_is_told_with_its_interval(word):
    """What falls is told with half of its 95 % interval; the true fall is near its end at most.

    The reach is one of three, not the true one, so the interval of the size may miss it.
    """
    told = bend_of(read_as(word)).why
    size, half = re.search(r"falls ([0-9.]+) ± ([0-9.]+) in", told).groups()
    assert 0.05 < float(half) < 0.4
    assert abs(float(size) - 1.2) <= 2 * float(half)


def test_too_few_places_for_a_strip_or_corner_leave_the_dome():
    """Of five places no strip or corner holds three and leaves three: neither is told of."""
    xy = np.array([(20.0, 14.0), (19.0, 14.0), (21.0, 14.0), (20.0, 13.0), (20.0, 15.0)])
    surface = surface_of(xy, -0.01 * ((xy - xy[0]) ** 2).sum(axis=1), ROUGH, 0.05)
    assert [t.kind for t in weigh(surface, FLOOR, 3.0)] == ["quadratic"]
