"""Doubt about the floor's roughness in the sd."""

import numpy as np
import pytest
from known_floors import RECTANGLE, ROUGH, surface_of
from numpy.testing import assert_allclose
from scipy.optimize import approx_fprime

from levelbook.floor import hedge as hedging
from levelbook.floor.hedge import Hedged, hedge
from levelbook.floor.reml import Prior, Sample, evaluate

PRIOR = Prior(ROUGH, (0.8, 0.4, 0.5))
LINE = np.linspace((2.0, 3.0), (38.0, 25.0), 9)


@pytest.fixture(scope="module")
def surface():
    rng = np.random.default_rng(3)
    xy = rng.uniform((0, 0), RECTANGLE[2], (30, 2))
    return surface_of(xy, 0.3 * np.sin(xy[:, 0] / 9) + 0.08 * rng.standard_normal(30), ROUGH, 0.06)


def logs_of(surface):
    hyper = surface.hyper
    return np.log([hyper.amplitude, hyper.length, hyper.unevenness])


def test_the_others_have_the_spread_that_is_left_open(surface):
    """Logarithms of the six have the fitted ones as mean and the inverse information as spread."""
    others = np.array([logs_of(s) for s in hedge(surface, PRIOR).others])
    assert others.shape == (6, 3)
    logs = logs_of(surface)
    assert_allclose(others.mean(axis=0), logs, atol=1e-12)
    sample = Sample(surface.xy, surface.level, surface.noise)
    information = evaluate(sample, PRIOR, logs).information
    spread = (others - logs).T @ (others - logs) / 6
    assert_allclose(spread, np.linalg.inv(information), rtol=1e-9)


def test_information_is_near_the_curvature(surface):
    """The slope of the log posterior's gradient agrees in size with the information used."""
    sample = Sample(surface.xy, surface.level, surface.noise)
    logs = logs_of(surface)
    curvature = -approx_fprime(logs, lambda x: evaluate(sample, PRIOR, x).gradient, 1e-5)
    information = evaluate(sample, PRIOR, logs).information
    ratio = np.diag(curvature) / np.diag(information)
    assert ((ratio > 0.3) & (ratio < 3.0)).all()


def test_answers_are_means_over_the_six(surface):
    """Variance within, averaged, and how far the six stand off; the mean is the surface's."""
    hedged = hedge(surface, PRIOR)
    mean, covariance = hedged.joint(LINE)
    assert_allclose(mean, surface.joint(LINE)[0])
    want = np.zeros((9, 9))
    for other in hedged.others:
        there, spread = other.joint(LINE)
        want += (spread + np.outer(there - mean, there - mean)) / 6
    assert_allclose(covariance, want, atol=1e-12)
    weights = np.vstack([np.linspace(-1, 1, 9), np.ones(9)])
    value, variance = hedged.functional(weights, LINE)
    assert_allclose(value, weights @ mean, atol=1e-10)
    assert_allclose(variance, weights @ covariance @ weights.T, atol=1e-10)
    assert hedged.predict(LINE)[0] == pytest.approx(mean)
    assert hedged.stations == surface.stations
    assert hedged.xy is surface.xy


def test_doubt_widens_the_sd(surface):
    """With 30 readings the offset from a chord is surer with roughness taken as known."""
    weights = [[1.0, -0.5, -0.5]]
    at = LINE[[4, 0, 8]]
    plain = surface.functional(weights, at)[1][0, 0]
    hedged = hedge(surface, PRIOR).functional(weights, at)[1][0, 0]
    assert plain < hedged < 4 * plain


def test_a_sure_prior_leaves_no_doubt(surface):
    """Where the roughness is known beforehand, nothing is added."""
    sure = hedge(surface, Prior(ROUGH, (1e-6, 1e-6, 1e-6)))
    assert_allclose(sure.joint(LINE)[1], surface.joint(LINE)[1], rtol=1e-4, atol=1e-10)


def test_very_many_stations_are_not_hedged(surface, monkeypatch):
    """Beyond the size that roughness is learnt from, the surface stands for itself."""
    monkeypatch.setattr(hedging, "MOST", 29)
    assert hedge(surface, PRIOR) == Hedged(surface, ())
    mean, covariance = hedge(surface, PRIOR).joint(LINE)
    assert_allclose(mean, surface.joint(LINE)[0])
    assert_allclose(covariance, surface.joint(LINE)[1])
