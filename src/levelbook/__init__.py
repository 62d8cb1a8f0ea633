"""Floor-level readings of a house, reduced, shaped, screened and reported."""

__version__ = "0.1.0"
