"""The report: PDF, HTML, CSV and JSON."""
