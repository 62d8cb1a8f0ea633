"""Figures over a whole archive: every visit's, made side by side, and how they are spread."""
