"""The report: PDF, HTML, CSV and JSON from one assessment.

>>> report = build(assess(book))                                 # doctest: +SKIP
>>> report.parts[".pdf"], report.parts[".html"]                  # doctest: +SKIP
"""

from levelbook.report.build import FORMATS, Format, Report, build
from levelbook.report.pdf import TypesettingError

__all__ = ["FORMATS", "Format", "Report", "TypesettingError", "build"]
