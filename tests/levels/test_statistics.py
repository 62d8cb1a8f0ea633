"""Critical values and propagated uncertainty against published and independent figures."""

from math import inf

import numpy as np
import pytest
from scipy import stats

from levelbook.errors import UsageError
from levelbook.levels import (
    chi_square_limits,
    combined_uncertainty,
    effective_dof,
    least_significant_change,
    noncentrality,
    normal_critical,
    tau_critical,
)


def test_baarda() -> None:
    """The w-test at 0.001 has its limit at 3.2905; power 0.80 asks 4.1321 (Baarda 1968)."""
    assert normal_critical(0.001) == pytest.approx(3.2905, abs=5e-5)
    assert noncentrality(0.001, 0.80) == pytest.approx(4.1321, abs=5e-5)


@pytest.mark.parametrize(("dof", "limit"), [(4, 1.7567), (10, 1.9039), (20, 1.9358)])
def test_pope(dof: int, limit: float) -> None:
    """Pope's tau at 5 % (Pope 1976, recomputed)."""
    assert tau_critical(0.05, dof) == pytest.approx(limit, abs=5e-5)


def test_chi_square() -> None:
    """The 2.5 and 97.5 % points of chi-square with 4 degrees of freedom."""
    assert chi_square_limits(0.05, 4) == pytest.approx((0.4844, 11.1433), abs=5e-5)


def test_least_significant_change() -> None:
    """A point with 0.10 in each of two surveys must change by 1.96·√2·0.10 = 0.277 in."""
    assert least_significant_change(0.10) == pytest.approx(0.277, abs=5e-4)
    assert least_significant_change(0.10, 0.32) == pytest.approx(0.10 * 2**0.5, rel=0.01)


# JCGM 100:2008, example H.1, end-gauge calibration; figures from memory, recomputed.
GAUGE, GAUGE_DOF = (25.0, 9.7, 2.9, 16.6), (18.0, 25.6, 50.0, 2.0)


def test_end_gauge() -> None:
    """The end gauge of GUM H.1: combined 31.7 nm (printed 32) with 16.8 degrees of freedom."""
    assert combined_uncertainty(GAUGE) == pytest.approx(31.7, abs=0.05)
    assert effective_dof(GAUGE, GAUGE_DOF) == pytest.approx(16.8, abs=0.05)


def test_effective_dof_laws() -> None:
    """Equal parts add their degrees of freedom up; a part known without doubt adds none."""
    assert effective_dof([3.0, 3.0], [5.0, 5.0]) == pytest.approx(10.0)
    assert effective_dof([3.0], [7.0]) == pytest.approx(7.0)
    assert effective_dof([3.0, 3.0], [5.0, inf]) == pytest.approx(20.0)
    assert effective_dof([3.0], [inf]) == inf
    assert effective_dof([1e-3, 1e-3], [0.5, 0.5]) == pytest.approx(1.0)


@pytest.mark.parametrize("alpha", [0.3, 0.05, 0.001, 1e-6])
def test_against_scipy_stats(alpha: float) -> None:
    """The same quantiles by scipy.stats."""
    z = stats.norm.ppf(1 - alpha / 2)
    assert normal_critical(alpha) == pytest.approx(z, rel=1e-9)
    assert noncentrality(alpha, 0.6) == pytest.approx(z + stats.norm.ppf(0.6), rel=1e-9)
    for dof in (2, 3, 30):
        t = stats.t.ppf(1 - alpha / 2, dof - 1)
        assert tau_critical(alpha, dof) == pytest.approx(
            t * np.sqrt(dof) / np.sqrt(dof - 1 + t * t), rel=1e-8
        )
        assert chi_square_limits(alpha, dof) == pytest.approx(
            stats.chi2.ppf([alpha / 2, 1 - alpha / 2], dof), rel=1e-6
        )


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: normal_critical(0.0), "alpha: 0.0 is not a probability"),
        (lambda: normal_critical(1.0), "alpha: 1.0 is not a probability"),
        (lambda: noncentrality(0.05, 1.5), "power: 1.5"),
        (lambda: tau_critical(0.05, 1), "at least 2"),
        (lambda: chi_square_limits(0.05, 0), "at least 1"),
        (lambda: effective_dof([1.0], [1.0, 2.0]), "equal length"),
        (lambda: effective_dof([1.0], [0.0]), "positive"),
    ],
)
def test_what_has_no_meaning_is_refused(call, match: str) -> None:
    """A level that is no probability or too few degrees of freedom is refused."""
    with pytest.raises(UsageError, match=match):
        call()


def test_lower_bounds_are_usable() -> None:
    """The least degrees of freedom that have a value give it."""
    assert tau_critical(0.05, 2) == pytest.approx(np.sqrt(2), rel=0.01)
    assert chi_square_limits(0.05, 1)[1] == pytest.approx(5.0239, abs=5e-5)
