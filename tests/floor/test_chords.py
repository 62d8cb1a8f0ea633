"""Walls, drawn lines and the worst chord, held against plain searches."""

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
from known_floors import ELL, RECTANGLE, ROUGH, exact, floor_of, lattice, moved, surface_of

from levelbook.floor.chords import _ends, _Field, clip_line, wall_lines, worst_chord
from levelbook.floor.profiles import profile

FLOOR = floor_of(RECTANGLE)


def bending(surface, line):
    found = profile(surface, line, 1.0, "x")
    return abs(found.deflection) / found.length


def rolling(xy):
    return 0.3 * np.sin(xy[:, 0] / 7) + 0.2 * np.cos(xy[:, 1] / 5) - 0.0008 * (xy[:, 0] - 25) ** 2


def test_walls_are_whole_and_long_enough():
    """Every straight outer wall of 10 ft or more, corner to corner, along the outline."""
    outline = ((0, 0), (15, 0), (40, 0), (40, 28), (31, 28), (31, 20), (0, 20))
    lines = wall_lines(floor_of(outline), 10.0)
    assert set(lines) == {
        ((0.0, 0.0), (40.0, 0.0)),
        ((40.0, 0.0), (40.0, 28.0)),
        ((31.0, 20.0), (0.0, 20.0)),
        ((0.0, 20.0), (0.0, 0.0)),
    }
    assert len(wall_lines(floor_of(outline), 8.0)) == 6


def test_the_worst_chord_of_a_valley_crosses_it():
    """A parabola across the short way bends most from wall to wall, at its full depth."""
    surface = exact(lambda xy: 0.002 * (xy[:, 1] - 14) ** 2)
    (a, b), (c, d) = worst_chord(surface, FLOOR, 20.0)
    assert {round(b, 2), round(d, 2)} == {0.0, 28.0}
    assert abs(a - c) < 1.0


@pytest.mark.parametrize("outline", [RECTANGLE, ELL])
def test_no_plain_search_finds_a_clearly_worse_chord(outline):
    """Every pair of places 3 ft apart, tried one by one, bends at most 1 % more."""
    floor = floor_of(outline)
    surface = exact(rolling, outline, 2.5)
    found = worst_chord(surface, floor, 20.0)
    assert math.dist(*found) >= 20.0 - 1e-6
    reach = floor.polygon.buffer(1e-6)
    assert reach.covers(shapely.LineString(found))
    places = [p for p in lattice(outline, 3.0) if reach.covers(shapely.Point(p))]
    lines = [
        (tuple(a), tuple(b))
        for a, b in combinations(places, 2)
        if math.dist(a, b) >= 20.0 and reach.covers(shapely.LineString([a, b]))
    ]
    rng = np.random.default_rng(0)
    tried = [lines[i] for i in rng.choice(len(lines), 600, replace=False)]
    best = max(bending(surface, line) for line in tried)
    assert bending(surface, found) >= 0.99 * best


def test_a_chord_stays_off_holes():
    """A court in the middle is not spanned though the bend over it is larger."""
    hole = ((12.0, 6.0), (28.0, 6.0), (28.0, 22.0), (12.0, 22.0))
    floor = floor_of(RECTANGLE, (hole,))
    surface = exact(lambda xy: -0.002 * (xy[:, 0] - 20) ** 2 - 0.002 * (xy[:, 1] - 14) ** 2)
    found = worst_chord(surface, floor, 20.0)
    assert floor.polygon.buffer(1e-5).covers(shapely.LineString(found))


def test_no_chord_where_none_is_long_enough():
    """A floor smaller than the shortest chord has none."""
    assert worst_chord(exact(rolling), FLOOR, 60.0) is None


def test_the_worst_chord_turns_with_the_sheet():
    """The same floor turned and moved has a chord as bad, to the search's own step."""
    rng = np.random.default_rng(2)
    xy = rng.uniform((0, 0), (40, 28), (40, 2))
    level = rolling(xy) + 0.05 * rng.standard_normal(40)
    surface = surface_of(xy, level, ROUGH, 0.06)
    still = worst_chord(surface, FLOOR, 20.0)
    for angle, shift in ((30.0, (5.0, -80.0)), (145.0, (0.0, 0.0)), (270.0, (9.0, 9.0))):
        outline = tuple(map(tuple, moved(RECTANGLE, angle, shift).tolist()))
        turned = surface_of(moved(xy, angle, shift), level, ROUGH, 0.06)
        there = worst_chord(turned, floor_of(outline), 20.0)
        assert bending(turned, there) == pytest.approx(bending(surface, still), rel=1e-3)


@pytest.mark.parametrize(
    ("line", "want"),
    [
        (((5, 5), (35, 20)), ((5, 5), (35, 20))),
        (((-10, 14), (60, 14)), ((0, 14), (40, 14))),
        (((0, 0), (40, 0)), ((0, 0), (40, 0))),
        (((-5, 40), (50, 40)), None),
        (((50, 0), (50, 28)), None),
    ],
)
def test_a_drawn_line_is_cut_to_the_floor(line, want):
    """What sticks out is cut off; a line off the floor is none of it."""
    found = clip_line(FLOOR, line, 0.5)
    if want is None:
        assert found is None
    else:
        assert np.asarray(found) == pytest.approx(np.asarray(want, float), abs=1e-3)


def test_a_line_drawn_just_outside_a_wall_counts():
    """Within half a foot beside the floor it is taken as along the wall, beyond not."""
    found = clip_line(FLOOR, ((2.0, -0.3), (30.0, -0.3)), 0.5)
    assert np.asarray(found) == pytest.approx(np.array([[2.0, -0.3], [30.0, -0.3]]))
    assert clip_line(FLOOR, ((2.0, -0.7), (30.0, -0.7)), 0.5) is None


def test_a_line_across_a_notch_keeps_its_longest_piece():
    """Through the L's notch only the longer side is kept."""
    found = clip_line(floor_of(ELL), ((40.0, 12.0), (10.0, 30.0)), 0.5)
    assert math.dist(*found) < math.dist((40, 12), (10, 30))
    assert floor_of(ELL).polygon.buffer(1e-3).covers(shapely.LineString(found))


def test_a_point_touching_the_floor_is_no_line():
    """A line that only touches a corner has no piece on the floor."""
    assert clip_line(FLOOR, ((-5.0, 5.0), (5.0, -5.0)), 0.0) is None


def test_a_short_bump_gets_the_shortest_chord_allowed():
    """Where shorter would be worse still, the chord is as short as it may be, and no shorter."""
    bump = lambda xy: 0.8 * np.exp(-((xy[:, 0] - 20) ** 2 + (xy[:, 1] - 14) ** 2) / 12)  # noqa: E731
    found = worst_chord(exact(bump, step=2.0), FLOOR, 20.0)
    assert 20.0 - 1e-6 <= math.dist(*found) <= 20.6


def test_the_net_is_exact_for_what_is_bilinear():
    """Between its nodes the net of the search follows a twisted plane, on any of its squares."""
    x, y = np.linspace(-3, 9, 7), np.linspace(2, 8, 5)
    twist = lambda p: 1 + 2 * p[..., 0] - p[..., 1] + 0.3 * p[..., 0] * p[..., 1]  # noqa: E731
    field = _Field(x, y, twist(np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)))
    rng = np.random.default_rng(1)
    points = np.vstack([rng.uniform((-3, 2), (9, 8), (50, 2)), [(-3, 2), (9, 8), (9, 2)]])
    assert field.quick(*field.squares(points).T.copy()) == pytest.approx(twist(points))
    assert field.smooth(points) == pytest.approx(twist(points))


def test_ends_lie_along_the_walls_and_within():
    """Places for ends: corners, along every wall no farther apart than the step, and inside."""
    ends = _ends(FLOOR, 4.0)
    local = np.array(RECTANGLE) @ FLOOR.axes.T
    for corner in local:
        assert np.hypot(*(ends - corner).T).min() < 1e-9
    on_wall = shapely.distance(FLOOR.local.exterior, shapely.points(ends)) < 1e-9
    assert on_wall.sum() == 34  # 10 + 7 + 10 + 7 steps of 4 ft
    assert 20 <= (~on_wall).sum() <= 60
