"""Units of the document and the factors between them (exact, by definition of the inch)."""

from levelbook.book.model import Units

METRES = {"in": 0.0254, "mm": 0.001, "ft": 0.3048, "m": 1.0}


def rise_per_run(units: Units) -> float:
    """Return the factor that makes level units over plan units a dimensionless slope."""
    return METRES[units.level] / METRES[units.plan]


def convert(value: float, unit: str, to: str) -> float:
    """Convert a length between ``in``, ``mm``, ``ft`` and ``m``."""
    return value * (METRES[unit] / METRES[to])
