"""What the adjustment of one visit returns: typed, frozen, in the document's level unit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Group:
    """Stations that the readings connect; ``zero`` is held at level 0 on ``finish``."""

    id: str
    zero: str
    finish: str
    stations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StationLevel:
    """Level of one station above its group's zero."""

    level: float
    sd: float
    group: str
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FinishHeight:
    """Height of a finish above its group's reference finish; ``None`` where not determined."""

    height: float | None
    sd: float | None
    group: str | None


@dataclass(frozen=True, slots=True)
class SetupConstant:
    """Constant of a setup and its drift (level units per hour), where determined."""

    constant: float | None
    sd: float | None
    drift: float | None
    drift_sd: float | None
    group: str | None


@dataclass(frozen=True, slots=True)
class Fit:
    """The two-sided global test of the adjustment (5 %); ``None`` without redundancy."""

    readings: int
    unknowns: int
    dof: int
    variance_factor: float | None
    chi2: float
    chi2_low: float | None
    chi2_high: float | None
    ok: bool | None


@dataclass(frozen=True, slots=True)
class Closure:
    """A station read again by one setup on one finish; ``misclosure`` is last minus first."""

    station: str
    setup: str
    first: str
    last: str
    misclosure: float
    allowed: float


@dataclass(frozen=True, slots=True)
class Residual:
    """Residual of one reading (observed minus adjusted), its redundancy and Baarda's w."""

    residual: float
    redundancy: float
    w: float | None


@dataclass(frozen=True)
class Levels:
    """Levels of one visit with their full covariance.

    ``ids`` orders the stations that were read. The covariance of their levels is
    ``diag(own) + shared @ shared.T``: what belongs to a station's readings alone, and what
    is shared through finishes, setups, drift and the zero. Zero station rows are 0.
    """

    groups: tuple[Group, ...]
    stations: Mapping[str, StationLevel]
    finishes: Mapping[str, FinishHeight]
    setups: Mapping[str, SetupConstant]
    fit: Fit
    closures: tuple[Closure, ...]
    residuals: Mapping[str, Residual]
    ids: tuple[str, ...]
    level: Array
    own: Array
    shared: Array

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Position of each station in the arrays."""
        return {station: i for i, station in enumerate(self.ids)}

    def covariance(self, ids: Sequence[str] | None = None) -> Array:
        """Return the covariance matrix of the named stations (all by default)."""
        rows = slice(None) if ids is None else np.array([self.index[i] for i in ids], dtype=int)
        shared = self.shared[rows]
        return np.diag(self.own[rows]) + shared @ shared.T
