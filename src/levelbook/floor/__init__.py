"""Levels to shape: one fitted surface an area, and what follows from it."""
