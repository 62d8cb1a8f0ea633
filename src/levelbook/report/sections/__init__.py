"""The sections of a report, each made from an assessment into plain blocks."""
