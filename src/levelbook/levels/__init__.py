"""Readings to levels: the adjustment of one visit."""
