"""Joint draws: exact in what is linear, the same every time."""

import numpy as np
from known_floors import turn
from numpy.testing import assert_allclose

from levelbook.floor.draws import draws

MEAN = np.array([1.0, -2.0, 0.5])
ROOT = np.array([[1.0, 0, 0], [0.5, 0.2, 0], [-0.3, 0.1, 0.0]])


def test_mean_and_covariance_are_exact():
    """Sample mean and covariance are those asked for, a singular covariance too."""
    found = draws(MEAN, ROOT @ ROOT.T)
    assert_allclose(found.mean(axis=0), MEAN, atol=1e-12)
    assert_allclose(np.cov(found.T, bias=True), ROOT @ ROOT.T, atol=1e-12)


def test_the_same_question_has_the_same_answer():
    """Nothing is left to chance between two calls."""
    assert_allclose(draws(MEAN, np.eye(3)), draws(MEAN, np.eye(3)), rtol=0)


def test_draws_come_in_pairs_about_the_mean():
    """What lies to one side in the first half lies to the other in the second."""
    found = draws(MEAN, np.diag([1.0, 4.0, 9.0])) - MEAN
    assert_allclose(found[:256], -found[256:], atol=1e-12)


def test_draws_look_normal():
    """Tails and shoulders of a single variable are those of a normal distribution."""
    one = draws(np.zeros(30), np.eye(30)).ravel()
    assert abs((one**4).mean() - 3.0) < 0.15
    assert abs(np.mean(np.abs(one) > 1.96) - 0.05) < 0.01


def test_a_nearly_singular_covariance_changes_little_by_rounding():
    """The root is continuous: a covariance turned there and back draws the same."""
    q = np.eye(3)
    q[:2, :2] = turn(1e-9)
    covariance = ROOT @ ROOT.T
    assert_allclose(draws(MEAN, q @ covariance @ q.T), draws(MEAN, covariance), atol=1e-6)
