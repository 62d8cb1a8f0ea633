"""Hyperparameters by restricted likelihood: value, gradient, maximum, laws and edges."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import minimize

from levelbook.floor import reml
from levelbook.floor.covariance import JITTER, distances, matern52
from levelbook.floor.model import Hyperparameters
from levelbook.floor.reml import Prior, Sample, estimate, evaluate

PRIOR = Prior(Hyperparameters(0.4, 18.0, 0.05), (1.0, 0.5, 0.5))


def draw(seed, n, hyper, noise=0.06):
    """Places and levels drawn from the model itself, with correlated noise."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 1, (n, 2)) * [40, 30]
    shared = 0.03 * rng.standard_normal((n, 2))
    own = noise**2 * np.eye(n) + shared @ shared.T
    spread = hyper.amplitude**2 * matern52(distances(xy, xy) / hyper.length)
    spread += own + hyper.unevenness**2 * np.eye(n)
    level = np.linalg.cholesky(spread) @ rng.standard_normal(n) + 0.01 * xy[:, 0] - 2.0
    return Sample(xy, level, own)


def plain_value(sample, prior, logs):
    """Write the log posterior out with inverses and determinants."""
    amplitude, length, unevenness = np.exp(logs)
    n = len(sample.xy)
    v = amplitude**2 * matern52(distances(sample.xy, sample.xy) / length) + sample.noise
    v += (unevenness**2 + JITTER * amplitude**2) * np.eye(n)
    x = sample.trend
    inverse = np.linalg.inv(v)
    normal = x.T @ inverse @ x
    p = inverse - inverse @ x @ np.linalg.inv(normal) @ x.T @ inverse
    fit = np.linalg.slogdet(v)[1] + np.linalg.slogdet(normal)[1] + sample.level @ p @ sample.level
    medians = (prior.median.amplitude, prior.median.length, prior.median.unevenness)
    off = (logs - np.log(medians)) / prior.spread
    return -0.5 * (fit + off @ off)


LOGS = [np.log([0.4, 18.0, 0.05]), np.log([0.1, 40.0, 0.2]), np.log([1.5, 7.0, 0.01])]


@pytest.mark.parametrize("logs", LOGS)
@pytest.mark.parametrize("n", [6, 40])
def test_value_against_a_plain_dense_formula(n, logs):
    """The objective is the restricted likelihood with the priors."""
    sample = draw(1, n, PRIOR.median)
    assert evaluate(sample, PRIOR, logs).value == pytest.approx(
        plain_value(sample, PRIOR, logs), abs=1e-8
    )


@pytest.mark.parametrize("logs", LOGS)
def test_gradient_against_finite_differences(logs):
    """The analytic gradient is that of the plain formula."""
    sample = draw(2, 35, PRIOR.median)
    expected = [
        (plain_value(sample, PRIOR, logs + e) - plain_value(sample, PRIOR, logs - e)) / 2e-5
        for e in 1e-5 * np.eye(3)
    ]
    assert_allclose(evaluate(sample, PRIOR, logs).gradient, expected, rtol=1e-6, atol=1e-5)


@pytest.mark.parametrize("n", [5, 12, 30, 120])
@pytest.mark.parametrize("seed", [3, 4])
def test_maximum_against_scipy(n, seed):
    """A general optimiser from several starts finds no better place."""
    sample = draw(seed, n, Hyperparameters(0.3, 12.0, 0.04))
    found = estimate(sample, PRIOR)
    logs = np.log([found.amplitude, found.length, found.unevenness])
    best = max(
        -minimize(
            lambda t: -evaluate(sample, PRIOR, t).value,
            start,
            jac=lambda t: -evaluate(sample, PRIOR, t).gradient,
        ).fun
        for start in LOGS
    )
    assert evaluate(sample, PRIOR, logs).value == pytest.approx(best, abs=1e-5)
    assert np.abs(evaluate(sample, PRIOR, logs).gradient).max() < 1e-2


def test_it_finds_what_the_floor_was_made_with():
    """From many stations the estimate is near the truth, whatever the prior's median."""
    truth = Hyperparameters(0.5, 10.0, 0.08)
    found = [estimate(draw(seed, 300, truth, noise=0.03), PRIOR) for seed in range(4)]
    assert np.mean([f.length for f in found]) == pytest.approx(10.0, rel=0.15)
    assert np.mean([f.amplitude for f in found]) == pytest.approx(0.5, rel=0.2)
    assert np.mean([f.unevenness for f in found]) == pytest.approx(0.08, rel=0.15)


@settings(deadline=None, max_examples=15)
@given(seed=st.integers(0, 1000), n=st.integers(5, 40), zero=st.integers(0, 4))
def test_the_estimate_does_not_depend_on_the_zero(seed, n, zero):
    """Holding another station at zero leaves the hyperparameters as they are."""
    sample = draw(seed, n, PRIOR.median)
    move = np.eye(n)
    move[:, zero] -= 1.0
    other = Sample(sample.xy, move @ sample.level, move @ sample.noise @ move.T)
    one, two = estimate(sample, PRIOR), estimate(other, PRIOR)
    assert_allclose(
        [one.amplitude, one.length, one.unevenness],
        [two.amplitude, two.length, two.unevenness],
        rtol=1e-5,
    )


@settings(deadline=None, max_examples=15)
@given(
    seed=st.integers(0, 1000),
    unit=st.sampled_from([1.0, 25.4]),
    plan=st.sampled_from([1.0, 0.3048]),
)
def test_the_estimate_scales_with_the_units(seed, unit, plan):
    """In other units the same hyperparameters come out, converted."""
    sample = draw(seed, 25, PRIOR.median)
    m = PRIOR.median
    scaled = Prior(
        Hyperparameters(m.amplitude * unit, m.length * plan, m.unevenness * unit), PRIOR.spread
    )
    other = Sample(sample.xy * plan, sample.level * unit, sample.noise * unit**2)
    one, two = estimate(sample, PRIOR), estimate(other, scaled)
    assert_allclose(
        [one.amplitude * unit, one.length * plan, one.unevenness * unit],
        [two.amplitude, two.length, two.unevenness],
        rtol=1e-5,
    )


@pytest.mark.parametrize("n", [5, 30, 200])
@pytest.mark.parametrize("size", [0.0, 1e-9, 1.0, 1e3, 1e9])
def test_any_levels_end_in_sound_hyperparameters(n, size):
    """All zeros, almost nothing and absurdly large levels settle without a warning."""
    sample = draw(6, n, PRIOR.median)
    level = size * np.sin(np.arange(n))
    found = estimate(Sample(sample.xy, level, sample.noise), PRIOR)
    values = np.array([found.amplitude, found.length, found.unevenness])
    assert np.isfinite(values).all()
    assert (values > 0).all()
    start = evaluate(Sample(sample.xy, level, sample.noise), PRIOR, PRIOR.centre)
    end = evaluate(Sample(sample.xy, level, sample.noise), PRIOR, np.log(values))
    assert end.value >= start.value


def test_repeated_places_are_no_trouble():
    """Every station read twice at one place still has a maximum."""
    sample = draw(7, 20, PRIOR.median)
    twice = Sample(
        np.vstack([sample.xy, sample.xy]),
        np.append(sample.level, sample.level + 0.01),
        0.004 * np.eye(40),
    )
    found = estimate(twice, PRIOR)
    assert 0 < found.unevenness < 0.1


@pytest.mark.parametrize("steps", [1, 2, 4])
def test_a_search_cut_short_is_never_worse_than_its_start(monkeypatch, steps):
    """Few steps of any kind end at least as high as the prior's medians, and below the top."""
    sample = draw(6, 30, PRIOR.median)
    wild = Sample(sample.xy, 1e3 * np.sin(np.arange(30)), sample.noise)

    def height(found):
        logs = np.log([found.amplitude, found.length, found.unevenness])
        return evaluate(wild, PRIOR, logs).value

    top = height(estimate(wild, PRIOR))
    monkeypatch.setattr(reml, "STEPS", steps)
    assert evaluate(wild, PRIOR, PRIOR.centre).value < height(estimate(wild, PRIOR)) < top
