"""The report: PDF, HTML, CSV and JSON from one assessment.

>>> report = build(assess(book))                                 # doctest: +SKIP
>>> report.parts[".pdf"], report.parts[".html"]                  # doctest: +SKIP
"""

from levelbook.report.build import FORMATS, Format, Report, build
from levelbook.report.firm import FirmMark
from levelbook.report.pdf import TypesettingError
from levelbook.report.sections.source import Issue

__all__ = ["FORMATS", "FirmMark", "Format", "Issue", "Report", "TypesettingError", "build"]
