"""The shared solver: certified regressions, other solvers, and what it refuses."""

from fractions import Fraction

import numpy as np
import pytest
import statsmodels.api as sm

from levelbook.errors import UsageError
from levelbook.levels import LeastSquares, solve

# NIST Statistical Reference Datasets, linear regression, Norris: pairs y, x as certified
# data; estimates, their standard deviations and the residual standard deviation below are
# the certified values.
NORRIS = """.1,.2 338.8,337.4 118.1,118.2 888.0,884.6 9.2,10.1 228.1,226.5 668.5,666.3
998.5,996.3 449.1,448.6 778.9,777.0 559.2,558.2 .3,.4 .1,.6 778.1,775.5 668.8,666.9
339.3,338.0 448.9,447.5 10.8,11.6 557.7,556.0 228.3,228.1 998.0,995.8 888.8,887.6
119.6,120.2 .3,.3 .6,.3 557.6,556.8 339.3,339.1 888.0,887.2 998.5,999.0 778.9,779.0
10.2,11.1 117.6,118.3 228.9,229.2 668.4,669.1 449.2,448.9 .2,.5"""


def norris() -> tuple[np.ndarray, np.ndarray]:
    """Return design (36, 2) and observations (36,) of the Norris data."""
    y, x = np.array([[float(v) for v in pair.split(",")] for pair in NORRIS.split()]).T
    return np.column_stack([np.ones_like(x), x]), y


def random_model(seed: int, n: int = 14, k: int = 4) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return a design (n, k), observations (n,) and a full covariance (n, n)."""
    rng = np.random.default_rng(seed)
    half = rng.normal(size=(n, n))
    return rng.normal(size=(n, k)), rng.normal(size=n), half @ half.T + 0.2 * np.eye(n)


def test_norris() -> None:
    """The certified values of Norris (NIST StRD)."""
    found = solve(*norris())
    assert found.estimates == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-10)
    assert found.posterior_sd == pytest.approx([0.232818234301152, 4.29796848199937e-4], rel=1e-10)
    assert found.reference_sd == pytest.approx(0.884796396144373, rel=1e-10)
    assert found.dof == 34


def test_no_intercept() -> None:
    """The certified values of NoInt1, a line through the origin (NIST StRD)."""
    found = solve(np.arange(60.0, 71.0)[:, None], np.arange(130.0, 141.0))
    assert found.estimates == pytest.approx([2.07438016528926], rel=1e-12)
    assert found.posterior_sd == pytest.approx([0.0165289256198347], rel=1e-10)
    assert found.reference_sd == pytest.approx(3.56753034006338, rel=1e-10)


@pytest.mark.parametrize("seed", range(5))
def test_weighted_against_statsmodels(seed: int) -> None:
    """Estimates, covariance and leverages of an unequally weighted model, by statsmodels WLS."""
    a, b, _ = random_model(seed)
    sd = np.random.default_rng(seed).uniform(0.1, 3.0, len(b))
    found, other = solve(a, b, sd), sm.WLS(b, a, weights=sd**-2.0).fit()
    assert found.estimates == pytest.approx(other.params, rel=1e-10)
    assert found.variance_factor == pytest.approx(other.scale, rel=1e-10)
    assert found.posterior_covariance == pytest.approx(other.cov_params(), rel=1e-9)
    assert found.covariance == pytest.approx(other.normalized_cov_params, rel=1e-9)
    assert found.sd == pytest.approx(other.bse / np.sqrt(other.scale), rel=1e-10)
    assert found.residuals == pytest.approx(other.resid, rel=1e-9)
    influence = sm.OLS(b / sd, a / sd[:, None]).fit().get_influence()
    assert found.redundancy == pytest.approx(1 - influence.hat_matrix_diag, rel=1e-9)
    studentized = influence.resid_studentized_internal * np.sqrt(other.scale)
    assert found.w == pytest.approx(studentized, rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_correlated_against_statsmodels(seed: int) -> None:
    """The same with a full covariance, by statsmodels GLS."""
    a, b, sigma = random_model(seed)
    found, other = solve(a, b, covariance=sigma), sm.GLS(b, a, sigma=sigma).fit()
    assert found.estimates == pytest.approx(other.params, rel=1e-9)
    assert found.covariance == pytest.approx(other.normalized_cov_params, rel=1e-8)
    assert found.posterior_covariance == pytest.approx(other.cov_params(), rel=1e-8)
    assert found.residuals == pytest.approx(b - a @ other.params, rel=1e-8)


@pytest.mark.parametrize("seed", range(5))
def test_correlated_residuals_by_definition(seed: int) -> None:
    """Redundancy and w with correlations, from the matrices of their definitions."""
    a, b, sigma = random_model(seed)
    found = solve(a, b, covariance=sigma)
    weight = np.linalg.inv(sigma)
    qvv = sigma - a @ np.linalg.inv(a.T @ weight @ a) @ a.T
    v = qvv @ weight @ b
    assert found.redundancy == pytest.approx(np.diag(qvv @ weight), rel=1e-8)
    assert found.redundancy.sum() == pytest.approx(found.dof)
    force = weight @ v / np.sqrt(np.diag(weight @ qvv @ weight))
    assert found.w == pytest.approx(force, rel=1e-8)
    assert found.chi2 == pytest.approx(v @ weight @ v, rel=1e-9)


def test_diagonal_covariance_is_the_same_as_sd() -> None:
    """A diagonal covariance and standard deviations give the same of everything."""
    a, b, _ = random_model(3)
    sd = np.linspace(0.5, 2.0, len(b))
    one, two = solve(a, b, sd), solve(a, b, covariance=np.diag(sd**2))
    for name in ("estimates", "covariance", "residuals", "redundancy", "w", "chi2"):
        assert getattr(one, name) == pytest.approx(getattr(two, name), rel=1e-10)


def test_one_spread_for_all() -> None:
    """One standard deviation scales the covariance and chi-square, nothing else."""
    a, b, _ = random_model(4)
    one, three = solve(a, b), solve(a, b, 3.0)
    assert three.estimates == pytest.approx(one.estimates)
    assert three.covariance == pytest.approx(9 * one.covariance)
    assert three.chi2 == pytest.approx(one.chi2 / 9)
    assert three.posterior_sd == pytest.approx(one.posterior_sd)
    assert three.w == pytest.approx(one.w / 3)


def exact(a: np.ndarray, b: np.ndarray, sd: np.ndarray) -> list[float]:
    """Return the weighted solution by elimination in fractions."""
    k = a.shape[1]
    rows = [[Fraction(float(v)) for v in row] for row in a]
    weight = [1 / Fraction(float(s)) ** 2 for s in sd]
    right = [Fraction(float(v)) for v in b]
    m = [
        [sum(w * r[i] * r[j] for w, r in zip(weight, rows, strict=True)) for j in range(k)]
        + [sum(w * r[i] * y for w, r, y in zip(weight, rows, right, strict=True))]
        for i in range(k)
    ]
    for i in range(k):
        m[i] = [v / m[i][i] for v in m[i]]
        for j in range(k):
            if j != i:
                m[j] = [x - m[j][i] * y for x, y in zip(m[j], m[i], strict=True)]
    return [float(row[-1]) for row in m]


@pytest.mark.parametrize("ratio", [1.0, 1e3, 1e6, 1e9])
@pytest.mark.parametrize("seed", range(4))
def test_unequal_weights_lose_no_digits(ratio: float, seed: int) -> None:
    """Rows a million times more precise than others leave the others' unknowns sharp."""
    rng = np.random.default_rng(seed)
    a = rng.integers(-3, 4, size=(12, 4)).astype(float)
    a[6:, 3] = 0.0  # the last unknown hangs on coarse rows alone
    sd = np.where(np.arange(12) < 6, 0.05, 0.05 / ratio)
    b = a @ rng.normal(scale=1e4, size=4) + sd * rng.normal(size=12)
    found = solve(a, b, sd)
    assert found.estimates == pytest.approx(exact(a, b, sd), rel=1e-14, abs=1e-11)


def test_columns_of_very_different_size() -> None:
    """Unknowns in very different units are no dependence between them."""
    a, b, _ = random_model(5)
    size = np.array([1e-9, 1.0, 1e6, 1e9])
    assert solve(a * size, b).estimates * size == pytest.approx(solve(a, b).estimates, rel=1e-9)


def test_no_unknowns() -> None:
    """Without unknowns the residuals are the observations."""
    found = solve(np.empty((2, 0)), [1.0, 2.0], 0.5)
    assert found.residuals.tolist() == [1.0, 2.0]
    assert found.redundancy.tolist() == [1.0, 1.0]
    assert (found.chi2, found.dof, found.covariance.shape) == (20.0, 2, (0, 0))


def test_no_redundancy() -> None:
    """As many unknowns as observations: no variance factor, no w, and a plain refusal."""
    found = solve([[1.0, 0.0], [1.0, 1.0]], [1.0, 3.0])
    assert found.estimates == pytest.approx([1.0, 2.0])
    assert found.variance_factor is None
    assert found.reference_sd is None
    assert np.isnan(found.w).all()
    for name in ("posterior_sd", "posterior_covariance"):
        with pytest.raises(UsageError, match="a priori"):
            getattr(found, name)


def test_one_degree_of_freedom() -> None:
    """A single spare observation already gives a variance factor."""
    found = solve([[1.0], [1.0]], [1.0, 3.0])
    assert found.variance_factor == found.chi2 == pytest.approx(2.0)


def test_an_observation_that_nothing_checks_has_no_w() -> None:
    """An observation with an unknown of its own has redundancy 0 and no w."""
    found = solve([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]], [1.0, 2.0, 5.0])
    assert found.redundancy == pytest.approx([0.5, 0.5, 0.0], abs=1e-15)
    assert np.isnan(found.w).tolist() == [False, False, True]


def test_an_unchecked_observation_among_correlated_ones() -> None:
    """With a covariance too, an observation with an unknown of its own has no w."""
    sigma = np.array([[4.0, 1.0, 0.0], [1.0, 4.0, 0.0], [0.0, 0.0, 1e-6]])
    found = solve([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]], [1.0, 2.0, 5.0], covariance=sigma)
    assert found.redundancy == pytest.approx([0.5, 0.5, 0.0], abs=1e-14)
    assert np.isnan(found.w).tolist() == [False, False, True]
    assert found.w[1] == pytest.approx(1 / 6**0.5)  # the difference of two, variance 4 + 4 - 2


@pytest.mark.parametrize(
    ("design", "sd", "match"),
    [
        ([[1.0, 1.0], [2.0, 2.0], [3.0, 3.0]], 1.0, "column . of the design depends"),
        ([[1.0, 0.0], [2.0, 0.0], [3.0, 0.0]], 1.0, "column 1 of the design depends"),
        ([[1.0, 2.0], [2.0, 1.0]], 1.0, "do not fit"),
        ([[1.0, 2.0, 3.0, 4.0]] * 3, 1.0, "do not fit"),
        ([[1.0], [np.nan], [2.0]], 1.0, "not finite"),
        ([[1.0], [1.0], [2.0]], [1.0, 0.0, 1.0], "not positive"),
        ([[1.0], [1.0], [2.0]], [1.0, -1.0, 1.0], "not positive"),
    ],
)
def test_what_cannot_be_solved_is_refused(design: list, sd: object, match: str) -> None:
    """Dependent columns, shapes and numbers that make no model are refused with a remedy."""
    with pytest.raises(UsageError, match=match):
        solve(design, [1.0, 2.0, 3.0], sd)


@pytest.mark.parametrize("covariance", [np.eye(2), -np.eye(3), np.ones((3, 3))])
def test_covariances_that_are_none_are_refused(covariance: np.ndarray) -> None:
    """A covariance of the wrong shape or not positive definite is refused."""
    with pytest.raises(UsageError, match="covariance"):
        solve([[1.0], [1.0], [2.0]], [1.0, 2.0, 3.0], covariance=covariance)


def test_the_result_is_frozen() -> None:
    """A solved model cannot be changed afterwards."""
    found: LeastSquares = solve([[1.0], [1.0]], [1.0, 2.0])
    with pytest.raises(AttributeError):
        found.chi2 = 0.0  # type: ignore[misc]
