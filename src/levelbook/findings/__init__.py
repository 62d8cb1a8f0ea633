"""Criteria, screening and wording."""
