"""Critical values and propagation of uncertainty.

Everything comes from ``scipy.special``, whose functions are those behind ``scipy.stats``,
because importing the latter would double the start of a command.
"""

from collections.abc import Sequence
from math import inf, isinf, sqrt

from scipy.special import chdtri, ndtri, stdtrit

from levelbook.errors import UsageError


def normal_critical(alpha: float) -> float:
    """Return the two-sided critical value ``z`` of a standard normal, ``P(|w| > z) = alpha``.

    With ``alpha`` 0.001 it is the limit of Baarda's w-test, 3.2905 (Baarda, *A testing
    procedure for use in geodetic networks*, 1968).
    """
    return float(-ndtri(_share(alpha, "alpha") / 2))


def noncentrality(alpha: float, power: float) -> float:
    """Return Baarda's ``δ₀ = z(1 - alpha/2) + z(power)`` for one suspected observation.

    A gross error of ``δ₀ σ/√r`` in an observation with redundancy ``r`` is found by the
    two-sided w-test with the given power; the far tail is neglected (Baarda 1968).
    """
    return normal_critical(alpha) + float(ndtri(_share(power, "power")))


def tau_critical(alpha: float, dof: int) -> float:
    """Return Pope's two-sided critical value for a residual over its own estimated sd.

    ``τ = t √ν / √(ν - 1 + t²)`` with ``t`` Student's value at ``1 - alpha/2`` for ``ν - 1``
    degrees of freedom (Pope, *The statistics of residuals and the detection of outliers*,
    NOAA TR NOS 65 NGS 1, 1976).

    Raises
    ------
    UsageError
        With fewer than 2 degrees of freedom every residual has the same τ.
    """
    if dof < 2:
        raise UsageError("tau", f"{dof} degrees of freedom are too few", "have at least 2")
    t = float(stdtrit(dof - 1, 1 - _share(alpha, "alpha") / 2))
    # divided through by t, so that a very large t gives √ν and no overflow
    return sqrt(dof) / sqrt((dof - 1) / t / t + 1)


def chi_square_limits(alpha: float, dof: int) -> tuple[float, float]:
    """Return the limits that chi-square of ``dof`` leaves with ``alpha/2`` on either side.

    The global test of an adjustment: Teunissen, *Testing theory*, 2000.
    """
    if dof < 1:
        raise UsageError("chi-square", f"{dof} degrees of freedom", "have at least 1")
    tail = _share(alpha, "alpha") / 2
    return float(chdtri(dof, 1 - tail)), float(chdtri(dof, tail))


def least_significant_change(sd: float, alpha: float = 0.05) -> float:
    """Return ``z √2 sd``: the least change of one point between two equal surveys that counts.

    ``sd`` is the point's standard deviation in each survey, by propagation of variances to
    the difference (JCGM 100:2008, 5.1.2).
    """
    return normal_critical(alpha) * sqrt(2) * sd


def combined_uncertainty(components: Sequence[float]) -> float:
    """Return the root of the sum of squares of independent components (JCGM 100, eq. 11a)."""
    return sqrt(sum(u * u for u in components))


def effective_dof(components: Sequence[float], dofs: Sequence[float]) -> float:
    """Return the Welch-Satterthwaite degrees of freedom of a combined uncertainty.

    ``ν = u⁴ / Σ(uᵢ⁴/νᵢ)`` (JCGM 100:2008, eq. G.2b); ``inf`` stands for a component known
    without doubt.

    Raises
    ------
    UsageError
        If the two lists differ in length or a ``νᵢ`` is not positive.
    """
    if len(components) != len(dofs) or not all(v > 0 for v in dofs):
        raise UsageError(
            "effective degrees of freedom",
            "each component needs its own positive number",
            "give lists of equal length; inf for a component that is known",
        )
    doubt = sum(u**4 / v for u, v in zip(components, dofs, strict=True) if not isinf(v))
    return combined_uncertainty(components) ** 4 / doubt if doubt > 0 else inf


def _share(value: float, name: str) -> float:
    if not 0 < value < 1:
        raise UsageError(name, f"{value} is not a probability", "give a number between 0 and 1")
    return value
