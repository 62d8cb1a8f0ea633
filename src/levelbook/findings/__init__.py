"""Criteria, screening and wording: judgement, kept apart from measurement.

>>> result = assess(book)                                        # doctest: +SKIP
>>> result.screening.outcome, result.words.summary               # doctest: +SKIP
>>> json.dumps(assess_document(result))                          # doctest: +SKIP
"""

from levelbook.findings.assessment import Figures, assess, figures
from levelbook.findings.catalogue import builtin_sets, default_sets, named_set
from levelbook.findings.criteria import CriteriaSet, Criterion
from levelbook.findings.criteria_file import load_criteria
from levelbook.findings.documents import assess_document, levels_document
from levelbook.findings.model import Assessment, Finding, Override, Screening, SetInfo, Words

__all__ = [
    "Assessment",
    "CriteriaSet",
    "Criterion",
    "Figures",
    "Finding",
    "Override",
    "Screening",
    "SetInfo",
    "Words",
    "assess",
    "assess_document",
    "builtin_sets",
    "default_sets",
    "figures",
    "levels_document",
    "load_criteria",
    "named_set",
]
