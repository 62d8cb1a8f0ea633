"""The fitted surface against independent references and its own laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern

from levelbook.floor.covariance import (
    JITTER,
    distances,
    matern52,
    matern52_and_slope,
    scaled_matern52,
)
from levelbook.floor.kriging import krige
from levelbook.floor.model import Hyperparameters
from levelbook.floor.surface import Surface, inverse_factor

HYPER = Hyperparameters(amplitude=0.4, length=13.0, unevenness=0.05)
AT = np.array([(3.0, 4.0), (20.0, 15.0), (39.5, 29.0), (11.0, 26.0), (60.0, 40.0)])


def spread_noise(rng, n, shared=3):
    """Make a covariance such as an adjustment gives: own parts, shared parts, a zero."""
    root = 0.05 * rng.standard_normal((n, shared))
    root[0] = 0.0
    own = rng.uniform(0.002, 0.005, n)
    own[0] = 0.0
    return np.diag(own) + root @ root.T


def make(seed=1, n=60, noise=None, hyper=HYPER):
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 1, (n, 2)) * [40, 30]
    level = 0.02 * xy[:, 0] + 0.3 * np.sin(xy[:, 1] / 8) + 0.05 * rng.standard_normal(n)
    noise = spread_noise(rng, n) if noise is None else noise
    ids = tuple(f"p{k}" for k in range(n))
    return Surface("house", "g1", ids, xy, level, noise, hyper)


def covariance(surface, a, b):
    h = surface.hyper
    return h.amplitude**2 * matern52(distances(a, b) / h.length)


def total(surface):
    square = surface.hyper.unevenness**2 + JITTER * surface.hyper.amplitude**2
    return (
        covariance(surface, surface.xy, surface.xy)
        + surface.noise
        + square * np.eye(len(surface.xy))
    )


def dense(surface, at):
    """Universal kriging by the bordered equations: mean and covariance at places."""
    xy, n = surface.xy, len(surface.xy)
    border, there = np.column_stack([np.ones(n), xy]), np.column_stack([np.ones(len(at)), at])
    system = np.block([[total(surface), border], [border.T, np.zeros((3, 3))]])
    right = np.hstack([covariance(surface, at, xy), there])
    weights = np.linalg.solve(system, right.T)
    return weights[:n].T @ surface.level, covariance(surface, at, at) - right @ weights


def test_against_the_universal_kriging_equations():
    """Mean and covariance solve the bordered system, correlated noise included."""
    surface = make()
    mean, cov = dense(surface, AT)
    got, got_cov = surface.joint(AT)
    assert_allclose(got, mean, atol=1e-9)
    assert_allclose(got_cov, cov, atol=1e-9)


def test_against_scikit_learn():
    """Scikit-learn's regressor on the levels less the trend gives the same posterior.

    It knows no flat prior on a trend: the trend is estimated beside it by generalised least
    squares, and what its uncertainty adds to the variance is added by hand.
    """
    surface = make(noise=np.eye(60) * 0.004)
    h = surface.hyper
    kernel = ConstantKernel(h.amplitude**2, "fixed") * Matern(h.length, "fixed", nu=2.5)
    noise = 0.004 + h.unevenness**2
    design = np.column_stack([np.ones(60), surface.xy])
    inverse = np.linalg.inv(kernel(surface.xy) + noise * np.eye(60))
    trend = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse @ surface.level)
    regressor = GaussianProcessRegressor(kernel, alpha=noise, optimizer=None)
    regressor.fit(surface.xy, surface.level - design @ trend)
    theirs, spread = regressor.predict(AT, return_std=True)
    mean, sd = surface.predict(AT)
    assert_allclose(mean, theirs + np.column_stack([np.ones(len(AT)), AT]) @ trend, atol=1e-8)
    lack = np.column_stack([np.ones(len(AT)), AT]) - kernel(AT, surface.xy) @ inverse @ design
    extra = np.einsum("ij,jk,ik->i", lack, np.linalg.inv(design.T @ inverse @ design), lack)
    assert_allclose(sd**2, spread**2 + extra, atol=1e-8)


def test_exact_levels_are_kriging():
    """Without noise the surface is kriging with a linear trend and goes through the levels."""
    hyper = Hyperparameters(0.4, 9.0, 0.0)
    surface = make(n=30, noise=np.zeros((30, 30)), hyper=hyper)
    answer = krige(surface.xy, surface.level, AT, lambda d: 0.16 * matern52(d / 9.0), order=1)
    mean, sd = surface.predict(AT)
    assert_allclose(mean, answer.estimate, atol=1e-7)
    assert_allclose(sd**2, answer.variance, atol=1e-7)
    assert_allclose(surface.predict(surface.xy)[0], surface.level, atol=1e-6)


@pytest.mark.parametrize("n", [5, 63, 64, 200])
def test_every_way_of_asking_agrees(n):
    """Prediction in blocks, means alone, joint answers and functionals are one surface."""
    surface = make(n=n)
    at = np.random.default_rng(n).uniform(-5, 45, (900, 2))
    mean, sd = surface.predict(at)
    joint, cov = surface.joint(at)
    assert_allclose(mean, joint, atol=1e-12)
    assert_allclose(sd**2, np.diag(cov), atol=1e-12)
    assert_allclose(surface.mean(at), mean, atol=1e-12)
    means, covs = surface.joint(at.reshape(30, 30, 2))
    assert_allclose(means, mean.reshape(30, 30), atol=1e-12)
    for k in (0, 7, 29):
        own = slice(30 * k, 30 * (k + 1))
        assert_allclose(covs[k], cov[own, own], atol=1e-12)
    weights = np.random.default_rng(1).standard_normal((4, 900))
    value, spread = surface.functional(weights, at)
    assert_allclose(value, weights @ joint, atol=1e-9)
    assert_allclose(spread, weights @ cov @ weights.T, atol=1e-8)


def test_gradient_is_the_derivative():
    """Mean and covariance of the gradient are those of small central differences."""
    surface = make()
    slope, cov = surface.gradient(AT)
    step = 1e-3
    for k, place in enumerate(AT):
        around = place + step * np.array([(1, 0), (-1, 0), (0, 1), (0, -1)])
        weights = np.array([(1, -1, 0, 0), (0, 0, 1, -1)]) / (2 * step)
        value, spread = surface.functional(weights, around)
        assert_allclose(slope[k], value, rtol=1e-5, atol=1e-8)
        assert_allclose(cov[k], spread, rtol=1e-3, atol=1e-9)


def test_draws_have_the_mean_and_covariance():
    """Many draws spread about the mean as the joint answer says; a seed repeats them."""
    surface = make()
    draws = surface.draws(AT, 40000, np.random.default_rng(5))
    mean, cov = surface.joint(AT)
    assert_allclose(draws.mean(axis=0), mean, atol=5 * np.sqrt(cov.max() / 40000))
    assert_allclose(np.cov(draws.T), cov, atol=0.03 * cov.max())
    again = surface.draws(AT, 40000, np.random.default_rng(5))
    assert (draws == again).all()


def test_leave_one_out_is_leaving_one_out():
    """The formula gives what fitting without the station and predicting it there gives."""
    surface = make(n=25)
    expected, sd = surface.leave_one_out()
    v = total(surface)
    design = np.column_stack([np.ones(25), surface.xy])
    for k in (0, 7, 24):
        keep = np.arange(25) != k
        inverse = np.linalg.inv(v[np.ix_(keep, keep)])
        normal = np.linalg.inv(design[keep].T @ inverse @ design[keep])
        trend = normal @ design[keep].T @ inverse @ surface.level[keep]
        weights = v[k, keep] @ inverse
        lack = design[k] - weights @ design[keep]
        rest = surface.level[keep] - design[keep] @ trend
        assert expected[k] == pytest.approx(design[k] @ trend + weights @ rest, abs=1e-9)
        variance = v[k, k] - weights @ v[keep, k] + lack @ normal @ lack
        assert sd[k] == pytest.approx(np.sqrt(variance), rel=1e-9)


def test_a_station_that_the_others_cannot_tell():
    """The one station off a line has no prediction from those in it: its sd is infinite."""
    xy = np.array([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0), (30.0, 0.0), (15.0, 20.0)])
    level = np.array([0.0, 0.1, -0.1, 0.2, 0.7])
    surface = Surface("house", "g1", tuple("abcde"), xy, level, 0.004 * np.eye(5), HYPER)
    expected, sd = surface.leave_one_out()
    assert np.isinf(sd[4])
    assert expected[4] == 0.7
    assert np.isfinite(sd[:4]).all()
    assert np.abs(expected[:4] - level[:4]).min() > 0.01


def rezeroed(surface, zero):
    """Hold another station of the same readings at zero."""
    move = np.eye(len(surface.xy))
    move[:, zero] -= 1.0
    return Surface(
        surface.area,
        surface.group,
        surface.stations,
        surface.xy,
        move @ surface.level,
        move @ surface.noise @ move.T,
        surface.hyper,
    )


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000), zero=st.integers(0, 29), size=st.floats(0.2, 5.0))
def test_the_shape_does_not_depend_on_the_zero(seed, zero, size):
    """Differences of heights, gradients and leave-one-out errors ignore which is zero."""
    hyper = Hyperparameters(0.4 * size, 13.0, 0.01)
    one = make(seed, n=30, hyper=hyper)
    other = rezeroed(one, zero)
    contrast = np.eye(len(AT))[1:] - np.eye(len(AT))[0]
    for mine, theirs in zip(
        one.functional(contrast, AT), other.functional(contrast, AT), strict=True
    ):
        assert_allclose(mine, theirs, atol=1e-8 * size**2 + 1e-9)
    for mine, theirs in zip(one.gradient(AT), other.gradient(AT), strict=True):
        assert_allclose(mine, theirs, atol=1e-9)
    expected, sd = one.leave_one_out()
    expected_other, sd_other = other.leave_one_out()
    assert_allclose(one.level - expected, other.level - expected_other, atol=1e-8)
    assert_allclose(sd, sd_other, rtol=1e-7)


@settings(deadline=None, max_examples=25)
@given(
    seed=st.integers(0, 10_000),
    angle=st.floats(0, 6.3),
    shift=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    plan=st.sampled_from([1.0, 0.3048]),
    unit=st.sampled_from([1.0, 25.4]),
)
def test_turning_moving_and_units_change_nothing(seed, angle, shift, plan, unit):
    """The surface turns, moves and scales with the plan and with the level unit."""
    one = make(seed, n=30)
    turn = plan * np.array([(np.cos(angle), -np.sin(angle)), (np.sin(angle), np.cos(angle))])

    def moved(xy):
        return xy @ turn.T + shift

    h = one.hyper
    hyper = Hyperparameters(h.amplitude * unit, h.length * plan, h.unevenness * unit)
    other = Surface(
        "house", "g1", one.stations, moved(one.xy), one.level * unit, one.noise * unit**2, hyper
    )
    for mine, theirs in zip(one.predict(AT), other.predict(moved(AT)), strict=True):
        assert_allclose(mine * unit, theirs, atol=1e-8 * unit)


@settings(deadline=None, max_examples=25)
@given(st.tuples(st.floats(-1, 1), st.floats(-0.1, 0.1), st.floats(-0.1, 0.1)))
def test_a_plane_is_returned_as_a_plane(plane):
    """Levels on a plane give back that plane everywhere, in the mean and the gradient."""
    surface = make(n=20)
    exact = plane[0] + surface.xy @ plane[1:]
    flat = Surface("house", "g1", surface.stations, surface.xy, exact, surface.noise, HYPER)
    assert_allclose(flat.predict(AT)[0], plane[0] + AT @ plane[1:], atol=1e-9)
    assert_allclose(flat.gradient(AT)[0], np.tile(plane[1:], (len(AT), 1)), atol=1e-10)


def test_stations_on_one_spot():
    """Two stations at one place are two levels of it: the sd falls, nothing breaks."""
    surface = make(n=40, noise=np.eye(40) * 0.004)
    twice = Surface(
        "house",
        "g1",
        (*surface.stations, "again"),
        np.vstack([surface.xy, surface.xy[:1]]),
        np.append(surface.level, surface.level[0]),
        np.eye(41) * 0.004,
        HYPER,
    )
    there = surface.xy[:1]
    assert twice.predict(there)[1] < surface.predict(there)[1]


def test_far_from_stations_little_is_known():
    """The sd grows away from the stations, beyond the surface's own amplitude."""
    sd = make().predict(np.array([(20.0, 15.0), (60.0, 15.0), (200.0, 15.0)]))[1]
    assert sd[0] < 0.1 < HYPER.amplitude < sd[2]
    assert sd[0] < sd[1] < sd[2]


def test_matern_values():
    """The Matérn 5/2 correlation against its closed form written out, and its slope."""
    assert matern52(np.array([0.0]))[0] == 1.0
    distance = np.array([0.3, 1.0, 2.5])
    expected = (1 + 5**0.5 * distance + 5 / 3 * distance**2) * np.exp(-(5**0.5) * distance)
    assert_allclose(matern52(distance), expected)
    assert_allclose(matern52(distance), Matern(1.0, nu=2.5)(np.zeros((1, 1)), distance[:, None])[0])
    t = 5**0.5 * distance
    value, slope = matern52_and_slope(t)
    assert_allclose(value, expected)
    nudge = 1e-6
    change = matern52(distance * np.exp(-nudge)) - matern52(distance * np.exp(nudge))
    assert_allclose(slope, change / (2 * nudge), rtol=1e-6)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.floats(0.01, 30.0))
def test_the_fast_correlation_is_the_plain_one(seed, size):
    """Distances by one matrix product lose nothing that matters, zero distance included."""
    rng = np.random.default_rng(seed)
    a = rng.uniform(-size, size, (12, 2))
    b = np.vstack([a[:5], rng.uniform(-size, size, (7, 2))])
    plain = matern52(distances(a, b) / 5**0.5)
    assert_allclose(scaled_matern52(a, b), plain, atol=1e-12)


def test_no_station_makes_no_noise(capfd: pytest.CaptureFixture[str]) -> None:
    """The inverse factor of a matrix without rows has none, and the library stays silent."""
    assert inverse_factor(np.empty((0, 0))).shape == (0, 0)
    assert capfd.readouterr() == ("", "")
