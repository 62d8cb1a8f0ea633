"""Profiles: sagitta, sign, ratio and what their sd promises."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from known_floors import EXACT, ROUGH, exact, lattice, moved, surface_of
from numpy.testing import assert_allclose

from levelbook.floor.profiles import POINTS, _shape, chord_removal, profile

WALL = ((0.0, 0.0), (40.0, 0.0))


@pytest.mark.parametrize(("sagitta", "shape"), [(0.8, "hog"), (-0.8, "sag")])
def test_a_parabola_along_a_wall_gives_its_own_sagitta(sagitta, shape):
    """Its middle stands its sagitta above the chord, + for a hog, − for a sag."""

    def parabola(xy):
        return sagitta * (1 - ((xy[:, 0] - 20) / 20) ** 2) + 0.03 * xy[:, 0] - 0.02 * xy[:, 1]

    found = profile(exact(parabola), WALL, 1 / 12, "wall 1")
    assert found.deflection == pytest.approx(sagitta, rel=1e-4)
    assert found.shape == shape
    assert found.at == pytest.approx((20.0, 0.0))
    assert found.length == 40.0
    assert found.ratio == pytest.approx(40 * 12 / 0.8, rel=1e-4)
    assert found.sd < 0.01
    t = found.distance / 40
    assert_allclose(found.offset, sagitta * 4 * t * (1 - t), atol=4e-3)


def test_a_lopsided_bend_is_largest_off_the_middle():
    """A cubic's largest offset lies at 1/√3 of its length."""
    found = profile(exact(lambda xy: -1e-5 * xy[:, 0] ** 3), WALL, 1 / 12, "wall 1")
    assert found.at[0] == pytest.approx(40 / math.sqrt(3), abs=1.0)
    assert found.deflection == pytest.approx(1e-5 * 40**3 * 2 / (3 * math.sqrt(3)), rel=2e-3)


@given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(-9, 9))
@settings(max_examples=10)
def test_a_plane_has_no_deflection(a, b, c):
    """However tilted, nothing is left when the chord is removed."""
    found = profile(exact(lambda xy: xy @ [a, b] + c), ((3, 4), (37, 25)), 1 / 12, "chord")
    assert abs(found.deflection) < 1e-9
    assert found.shape == "straight"


def test_an_exactly_straight_line_has_no_ratio():
    """Length over a deflection of exactly 0 is not a number to give."""
    found = profile(surface_of(lattice(), np.zeros(len(lattice()))), WALL, 1 / 12, "wall 1")
    assert (found.deflection, found.ratio, found.shape) == (0.0, None, "straight")


def test_profile_arrays_tell_the_surface_along_the_line():
    """Distance, level and sd are those of the surface, offsets vanish at both ends."""
    rng = np.random.default_rng(1)
    xy = rng.uniform((0, 0), (40, 28), (30, 2))
    surface = surface_of(xy, rng.normal(0, 0.3, 30), ROUGH, 0.06)
    found = profile(surface, ((1.0, 2.0), (31.0, 26.0)), 1 / 12, "section x")
    t = np.linspace(0, 1, POINTS)[:, None]
    places = np.array([1.0, 2.0]) + t * [30.0, 24.0]
    mean, sd = surface.predict(places)
    assert_allclose(found.level, mean)
    assert_allclose(found.level_sd, sd, rtol=1e-6)
    assert_allclose(found.distance, t[:, 0] * math.hypot(30, 24))
    chord = mean[0] + t[:, 0] * (mean[-1] - mean[0])
    assert_allclose(found.offset, mean - chord, atol=1e-12)
    largest = int(np.argmax(np.abs(mean - chord)))
    assert found.deflection == found.offset[largest]
    assert found.at == pytest.approx(tuple(places[largest]))
    assert found.source == "section x"
    assert found.line == ((1.0, 2.0), (31.0, 26.0))


def test_ratio_heeds_the_units():
    """Millimetres over metres: 10 mm in 4 m is 1/400."""
    surface = exact(lambda xy: 10 * (1 - ((xy[:, 0] - 2) / 2) ** 2), ((0, 0), (4, 0), (4, 3)), 0.4)
    found = profile(surface, ((0, 0), (4, 0)), 0.001, "wall 1")
    assert found.ratio == pytest.approx(400, rel=2e-3)


def test_a_clear_bend_has_the_sd_of_its_own_place():
    """Far from straight, the sd is that of one linear functional: middle less mean of ends."""
    xy = lattice(step=5.0)
    level = 5.0 * (1 - ((xy[:, 0] - 20) / 20) ** 2)
    surface = surface_of(xy, level, ROUGH, 0.06)
    found = profile(surface, WALL, 1 / 12, "wall 1")
    assert found.at == (20.0, 0.0)
    ends = [(0.0, 0.0), (20.0, 0.0), (40.0, 0.0)]
    mean, variance = surface.functional([[-0.5, 1.0, -0.5]], ends)
    assert found.deflection == pytest.approx(float(mean[0]))
    assert found.sd == pytest.approx(math.sqrt(float(variance[0, 0])), rel=0.02)


def test_a_doubtful_bend_is_called_straight():
    """Where the 95 % interval holds 0 neither hog nor sag is claimed."""
    rng = np.random.default_rng(2)
    xy = lattice(step=7.0)
    surface = surface_of(xy, 0.06 * rng.standard_normal(len(xy)), ROUGH, 0.06)
    found = profile(surface, WALL, 1 / 12, "wall 1")
    assert abs(found.deflection) < 1.96 * found.sd
    assert found.shape == "straight"


@given(st.floats(0, 360), st.floats(-50, 50), st.floats(-5, 5), st.floats(0.1, 30))
@settings(max_examples=20)
def test_profiles_turn_move_and_scale(angle, shift, rise, scale):
    """Turning the sheet, raising the floor and changing its unit change no shape."""
    rng = np.random.default_rng(3)
    xy = rng.uniform((0, 0), (40, 28), (25, 2))
    level = rng.normal(0, 0.3, 25)
    still = profile(surface_of(xy, level, ROUGH, 0.06), WALL, 1 / 12, "w")
    hyper = type(ROUGH)(scale * ROUGH.amplitude, ROUGH.length, scale * ROUGH.unevenness)
    there = profile(
        surface_of(moved(xy, angle, shift), scale * level + rise, hyper, scale * 0.06),
        tuple(map(tuple, moved(WALL, angle, shift).tolist())),
        1 / 12 / scale,
        "w",
    )
    assert there.deflection == pytest.approx(scale * still.deflection, rel=1e-6)
    assert there.sd == pytest.approx(scale * still.sd, rel=1e-3)
    assert there.ratio == pytest.approx(still.ratio, rel=1e-6)


def test_offsets_of_a_straight_line_vanish():
    """Removing the chord leaves nothing of constant and slope, all of the rest."""
    matrix = chord_removal(5)
    assert_allclose(matrix @ np.array([1.0, 2, 3, 4, 5]), 0.0, atol=1e-15)
    assert_allclose(matrix @ np.array([2.0, 0, 4, 0, 0]), [0, -1.5, 3, -0.5, 0])


@pytest.mark.parametrize(("amplitude", "count"), [(0.5, 25), (0.08, 50)])
def test_intervals_cover_the_true_largest_offset(amplitude, count):
    """The 95 % interval covers the true profile's own deflection, wherever that lies."""
    rng = np.random.default_rng(10)
    hyper = type(EXACT)(amplitude, 15.0, 0.05)
    line = ((2.0, 3.0), (38.0, 24.0))
    along = np.linspace(0, 1, POINTS)[:, None]
    track = np.array(line[0]) + along * (np.array(line[1]) - line[0])
    covered = []
    for _ in range(5):
        xy = rng.uniform((0, 0), (40, 28), (count, 2))
        places = np.concatenate([xy, track])
        kernel = surface_of(xy, np.zeros(count), hyper)._kernel(places, places)
        root = np.linalg.cholesky(kernel + 1e-9 * amplitude**2 * np.eye(len(places)))
        for _ in range(60):
            floor = root @ rng.standard_normal(len(places))
            level = floor[:count] + np.hypot(0.05, 0.06) * rng.standard_normal(count)
            found = profile(surface_of(xy, level, hyper, 0.06), line, 1 / 12, "s")
            offset = chord_removal(POINTS) @ floor[count:]
            truth = offset[np.argmax(np.abs(offset))]
            covered.append(abs(found.deflection - truth) <= 1.96 * found.sd)
    assert 0.92 <= np.mean(covered) <= 0.98


@pytest.mark.parametrize(
    ("deflection", "sd", "word"),
    [(1.0, 0.5, "hog"), (-1.0, 0.5, "sag"), (1.0, 0.52, "straight"), (-1.0, 0.52, "straight")],
)
def test_the_word_needs_1_96_sds(deflection, sd, word):
    """Two sds from 0 is told, 1.92 is not."""
    assert _shape(deflection, sd) == word
