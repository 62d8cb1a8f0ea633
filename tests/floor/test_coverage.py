"""Coverage: gaps, corners and where the next reading helps, held against plain loops."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from known_floors import ELL, RECTANGLE, ROUGH, floor_of, lattice, moved, sampled, surface_of

from levelbook.floor.coverage import coverage, next_places
from levelbook.floor.scales import scales

FEET = scales("ft")
FLOOR = floor_of(RECTANGLE)


@given(st.integers(0, 10_000), st.integers(1, 25), st.booleans())
@settings(max_examples=25)
def test_gaps_are_those_of_a_fine_net(seed, count, ell):
    """Largest gap and share beyond agree with asking every place of a net 0.4 ft wide."""
    floor = floor_of(ELL if ell else RECTANGLE)
    rng = np.random.default_rng(seed)
    stations = rng.uniform((0, 0), (40, 28), (count, 2))
    found = coverage(floor, stations, FEET, ())
    net = lattice(((0, 0), (40, 30)), 0.4)
    net = net[shapely.covers(floor.polygon, shapely.points(net))]
    nearest = np.hypot(*(net[:, None] - stations).transpose(2, 0, 1)).min(axis=1)
    assert found.largest_gap >= nearest.max() - 1e-9
    assert found.largest_gap == pytest.approx(nearest.max(), abs=0.3)
    assert found.share_beyond == pytest.approx(np.mean(nearest > 8.0), abs=0.04)
    at = np.array(found.largest_gap_at)
    assert np.hypot(*(stations - at).T).min() == pytest.approx(found.largest_gap)
    assert floor.polygon.buffer(1e-6).covers(shapely.Point(at))


def test_stations_on_one_circle_have_gaps_too():
    """Six stations, four on one circle, whose nearest pieces come with corners out of order."""
    stations = [(4.5, 18.8), (6.4, 16.9), (7.2, 18.6), (6.2, 19.6), (4.7, 17.1), (7.7, 16.3)]
    floor = floor_of(((0, 0), (54, 0), (54, 18), (31, 18), (31, 31), (0, 31)))
    found = coverage(floor, np.array(stations), FEET, ())
    assert found.largest_gap_at == (54.0, 0.0)
    assert found.largest_gap == pytest.approx(math.dist((54, 0), (7.7, 16.3)))
    net = lattice(((0, 0), (54, 31)), 0.4)
    net = net[shapely.covers(floor.polygon, shapely.points(net))]
    nearest = np.hypot(*(net[:, None] - np.array(stations)).transpose(2, 0, 1)).min(axis=1)
    assert found.share_beyond == pytest.approx(np.mean(nearest > 8.0), abs=0.01)


def test_share_beyond_one_station_is_what_its_disc_leaves():
    """One station in the middle: the floor less a disc of 8 ft."""
    found = coverage(FLOOR, np.array([[20.0, 14.0]]), FEET, ())
    assert found.share_beyond == pytest.approx(1 - math.pi * 64 / (40 * 28), rel=1e-3)
    assert found.largest_gap == pytest.approx(math.hypot(20, 14))
    assert found.spacing == 8.0


def test_a_well_read_floor_has_no_share_beyond():
    """Readings 8 ft apart leave nothing farther than 8 ft from one."""
    found = coverage(FLOOR, lattice(step=8.0), FEET, ())
    assert found.share_beyond == 0.0
    assert found.missed_corners == ()


def test_two_readings_at_one_place_do_no_harm():
    """Doubled and collinear stations give the same gaps as single ones."""
    single = np.array([[5.0, 5.0], [20.0, 5.0], [35.0, 5.0]])
    once, twice = (coverage(FLOOR, s, FEET, ()) for s in (single, np.repeat(single, 2, axis=0)))
    assert once == twice
    assert once.largest_gap == pytest.approx(math.hypot(7.5, 23))


def test_missed_corners_are_real_and_unread():
    """Corners with no station within 4 ft are told; a reading 4 ft off will do."""
    stations = np.array([[0.5, 0.5], [36.0, 0.0], [40.0, 23.5], [20.0, 14.0]])
    found = coverage(FLOOR, stations, FEET, ())
    assert set(found.missed_corners) == {(40.0, 28.0), (0.0, 28.0)}


def test_scales_are_round_in_both_systems():
    """10 ft and 3 m, 20 ft and 6 m: the figures the trade names, not conversions."""
    assert (FEET.min_apart, FEET.min_chord, FEET.spacing, FEET.corner) == (10, 20, 8, 4)
    metres = scales("m")
    assert (metres.min_apart, metres.min_chord, metres.spacing, metres.corner) == (3, 6, 2.5, 1.2)


def some_surface(seed=3, count=12):
    rng = np.random.default_rng(seed)
    xy = rng.uniform((0, 0), (25, 28), (count, 2))
    return surface_of(xy, rng.normal(0, 0.2, count), ROUGH, 0.06)


def test_next_places_are_those_that_reading_there_would_show():
    """Adding a station at each place in turn and fitting anew gives the same gains."""
    surface = some_surface()
    known = sampled(surface, FLOOR, 60)
    reading = 0.06**2 + 0.05**2
    places = next_places(known, reading)
    assert len(places) == 5
    xy = surface.xy
    for place in places:
        mean_before = _mean_variance(xy, known.cells)
        tried = [_mean_variance(np.vstack([xy, at]), known.cells) for at in known.cells.xy]
        best = int(np.argmin(tried))
        assert place.at == pytest.approx(tuple(known.cells.xy[best]))
        assert place.gain == pytest.approx(math.sqrt(mean_before) - math.sqrt(tried[best]))
        xy = np.vstack([xy, place.at])


def _mean_variance(xy, cells):
    _, sd = surface_of(xy, np.zeros(len(xy)), ROUGH, 0.06).predict(cells.xy)
    return float(cells.share @ sd**2)


def test_nothing_is_gained_where_all_is_known():
    """A surface without doubt has no next place."""
    known = sampled(some_surface(), FLOOR, 40)
    sure = type(known)(known.cells, known.mean, np.zeros_like(known.covariance))
    assert next_places(sure, 0.005) == ()


def test_a_place_that_gains_next_to_nothing_is_not_named():
    """One more reading no better than the surface itself is not worth a walk."""
    known = sampled(some_surface(), FLOOR, 40)
    assert next_places(known, 1e6) == ()


@pytest.mark.parametrize("angle", [40.0, 180.0])
def test_coverage_turns_with_the_sheet(angle):
    """Gaps and shares are the same on a turned sheet; places turn along."""
    stations = np.array([[5.0, 5.0], [20.0, 9.0], [35.0, 20.0], [8.0, 26.0]])
    still = coverage(FLOOR, stations, FEET, ())
    outline = tuple(map(tuple, moved(RECTANGLE, angle, (3, 4)).tolist()))
    there = coverage(floor_of(outline), moved(stations, angle, (3, 4)), FEET, ())
    assert there.largest_gap == pytest.approx(still.largest_gap)
    assert there.share_beyond == pytest.approx(still.share_beyond, rel=1e-3)
    assert len(there.missed_corners) == len(still.missed_corners)
    want = moved([still.largest_gap_at], angle, (3, 4))[0]
    assert there.largest_gap_at == pytest.approx(tuple(want), abs=1e-6)
