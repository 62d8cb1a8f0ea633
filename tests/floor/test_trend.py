"""Trend surfaces and kriging against published figures and plain references."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from levelbook.errors import UsageError
from levelbook.floor.covariance import distances, matern52
from levelbook.floor.kriging import krige
from levelbook.floor.trend import monomials, trend_surface

TOPO = Path(__file__).parents[1] / "data" / "topo.csv"

# Davis, Statistics and Data Analysis in Geology (1973): the topographic data, 52 points, as
# carried by the R package MASS. Residual sums of squares and the predictions are the
# published output of the examples of R's package spatial.


@pytest.fixture(scope="module")
def topo():
    """Places (52, 2) in units of 50 ft and heights (52,) in ft."""
    table = np.loadtxt(TOPO, delimiter=",", skiprows=1)
    assert table.shape == (52, 4)
    return table[:, 1:3], table[:, 3]


@pytest.mark.parametrize(("order", "printed"), [(0, 196030), (1, 67186), (2, 39958)])
def test_davis_residual_sums_of_squares(topo, order, printed):
    """Trend surfaces of order 0 to 2 leave the printed residual sums of squares."""
    assert round(trend_surface(*topo, order).sum_of_squares) == printed


def test_davis_plane(topo):
    """The plane, its standard error and those of its coefficients.

    Provenance: computed by an independent program from the published data.
    """
    plane = trend_surface(*topo, 1)
    assert_allclose(plane.coefficients, [913.80002, -1.69504, -25.25172], atol=5e-6)
    assert_allclose(plane.standard_error, 37.02887, atol=5e-6)
    errors = plane.solution.posterior_sd
    assert_allclose(errors, [13.42444, 2.76151, 2.61070], atol=5e-6)


def test_davis_prediction(topo):
    """The order-2 surface at two places, as printed."""
    mean, sd = trend_surface(*topo, 2).predict([(1.78, 6.15), (2.21, 6.15)])
    assert_allclose(mean, [756.0682, 747.0624], atol=5e-5)
    assert (sd > 0).all()


def test_davis_point_48(topo):
    """Point 48 stands out of the order-2 surface: standardised residual and leverage."""
    surface = trend_surface(*topo, 2)
    assert int(np.abs(surface.standardised).argmax()) == 47
    assert_allclose(surface.standardised[47], 3.468809, atol=5e-7)
    assert_allclose(surface.leverage[47], 0.08574061, atol=5e-9)
    assert_allclose(surface.leverage.sum(), 6.0)


def test_origin_changes_nothing_but_the_coefficients(topo):
    """Counting the powers from elsewhere gives the same surface."""
    plain, moved = trend_surface(*topo, 2), trend_surface(*topo, 2, origin=(3.0, -40.0))
    at = [(1.0, 1.0), (9.0, -2.0)]
    for one, other in zip(plain.predict(at), moved.predict(at), strict=True):
        assert_allclose(one, other, rtol=1e-8)
    assert not np.allclose(plain.coefficients, moved.coefficients)


def test_monomials_in_order():
    """Columns stand as 1, x, y, x², xy, y²."""
    assert_allclose(monomials(np.array([[2.0, 3.0]]), 2), [[1, 2, 3, 4, 6, 9]])


def test_prediction_spread_against_the_textbook_formula(topo):
    """The sd of the trend is s·sqrt(f' (F'F)⁻¹ f)."""
    xy, z = topo
    surface = trend_surface(xy, z, 2)
    design, place = monomials(xy, 2), monomials(np.array([[4.0, 1.0]]), 2)
    expected = surface.standard_error * np.sqrt(place @ np.linalg.inv(design.T @ design) @ place.T)
    assert_allclose(surface.predict([(4.0, 1.0)])[1], expected[0], rtol=1e-9)


@pytest.mark.parametrize(
    ("places", "order", "message"),
    [
        ([(0, 0), (1, 1), (2, 2), (3, 3)], 1, "depends on the others"),
        ([(0, 0), (1, 0)], 1, "do not fit"),
        ([(0, 0), (1, 0)], -1, "no polynomial"),
    ],
)
def test_what_cannot_be_fitted_is_told(places, order, message):
    """Places in line, too few places and a senseless order end in a told error."""
    with pytest.raises(UsageError, match=message):
        trend_surface(places, np.zeros(len(places)), order)


def test_a_trend_that_fits_exactly_has_no_standard_error():
    """Three points on a plane leave nothing over to judge the fit by."""
    plane = trend_surface([(0, 0), (1, 0), (0, 1)], [1.0, 2.0, 4.0])
    assert_allclose(plane.coefficients, [1, 1, 3])
    assert np.isnan(plane.standard_error)
    assert np.isnan(plane.standardised).all()


# Isaaks & Srivastava, An Introduction to Applied Geostatistics (1989), ordinary-kriging
# chapter, seven samples round 65E,137N, C(h) = 10 exp(-0.3 h) without nugget. From memory:
# recalled and reproduced, the printed page not seen.
SAMPLES = np.array(
    [
        (61, 139, 477),
        (63, 140, 696),
        (64, 129, 227),
        (68, 128, 646),
        (71, 140, 606),
        (73, 141, 791),
        (75, 128, 783),
    ],
    dtype=float,
)


def test_seven_samples_ordinary_kriging():
    """Weights, estimate and kriging variance of the worked example."""
    answer = krige(
        SAMPLES[:, :2], SAMPLES[:, 2], [(65.0, 137.0)], lambda h: 10.0 * np.exp(-0.3 * h)
    )
    printed = [0.173, 0.318, 0.129, 0.086, 0.151, 0.057, 0.086]
    assert_allclose(answer.weights[0], printed, atol=5e-4)
    assert_allclose(answer.estimate, [592.7], atol=0.05)
    assert_allclose(answer.variance, [8.96], atol=0.005)


@pytest.mark.parametrize("order", [0, 1, 2])
def test_kriging_against_the_augmented_system(order):
    """Weights and variance solve the textbook's bordered equations."""
    rng = np.random.default_rng(7)
    xy, at = rng.uniform(0, 30, (25, 2)), rng.uniform(0, 30, (4, 2))
    level = rng.standard_normal(25)

    def covariance(h):
        return 0.3 * matern52(h / 11.0) + 0.01 * (h == 0)

    border = monomials(xy, order)
    size = border.shape[1]
    system = np.block([[covariance(distances(xy, xy)), border], [border.T, np.zeros((size, size))]])
    right = np.hstack([covariance(distances(at, xy)), monomials(at, order)])
    solved = np.linalg.solve(system, right.T).T
    answer = krige(xy, level, at, covariance, order)
    assert_allclose(answer.weights, solved[:, :25], atol=1e-9)
    assert_allclose(answer.weights.sum(axis=1), 1.0)
    assert_allclose(answer.estimate, solved[:, :25] @ level, atol=1e-9)
    assert_allclose(answer.variance, 0.31 - (solved * right).sum(axis=1), atol=1e-9)
