"""Readings to levels: the adjustment of one visit, and the least-squares solver.

>>> levels = reduce(book)                                        # doctest: +SKIP
>>> levels.stations["7"].level, levels.stations["7"].sd          # doctest: +SKIP
"""

from levelbook.levels.least_squares import LeastSquares, solve
from levelbook.levels.leave_out import Expected, leave_each_out, leave_one_out
from levelbook.levels.model import (
    Closure,
    FinishHeight,
    Fit,
    Group,
    Levels,
    Residual,
    SetupConstant,
    StationLevel,
)
from levelbook.levels.reduction import reduce
from levelbook.levels.statistics import (
    chi_square_limits,
    combined_uncertainty,
    effective_dof,
    least_significant_change,
    noncentrality,
    normal_critical,
    tau_critical,
)

__all__ = [
    "Closure",
    "Expected",
    "FinishHeight",
    "Fit",
    "Group",
    "LeastSquares",
    "Levels",
    "Residual",
    "SetupConstant",
    "StationLevel",
    "chi_square_limits",
    "combined_uncertainty",
    "effective_dof",
    "least_significant_change",
    "leave_each_out",
    "leave_one_out",
    "noncentrality",
    "normal_critical",
    "reduce",
    "solve",
    "tau_critical",
]
