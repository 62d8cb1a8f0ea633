"""The result documents: plain tables ready for JSON, never rounded.

Levels, offsets and deflections are in the document's level unit, distances in its plan unit,
slopes rise over run; ``null`` stands where a figure is not available.
"""

from collections.abc import Sequence

from levelbook import __version__
from levelbook.book import digest
from levelbook.book.model import Book
from levelbook.findings.model import Assessment, Screening
from levelbook.findings.plain import Table, plain, record
from levelbook.findings.water_document import water_document
from levelbook.floor.model import Profile, Suspect, TooFew
from levelbook.floor.shape import AreaShape
from levelbook.levels.model import Levels


def levels_document(
    book: Book,
    levels: Levels,
    suspects: Sequence[Suspect],
    *,
    covariance: bool = False,
    version: str = __version__,
) -> Table:
    """Return the levels of a visit; with ``covariance`` their full matrix as well."""
    return _heading(book, digest(book), version) | _levels(levels, suspects, covariance)


def assess_document(
    assessment: Assessment, *, covariance: bool = False, version: str = __version__
) -> Table:
    """Return everything computed from one book."""
    floor, words = assessment.floor, assessment.words
    document = _heading(assessment.book, assessment.digest, version)
    document |= _levels(assessment.levels, floor.suspects, covariance)
    return document | {
        "areas": {
            area: _area(shape) | _without(assessment.without.get(area))
            for area, shape in floor.areas.items()
        },
        "sections": {name: _section(line) for name, line in floor.sections.items()},
        **water_document(assessment.water),
        "criteria": [record(finding) for finding in assessment.findings],
        "screening": _screening(assessment.screening),
        "words": record(words),
        "sets": plain(assessment.sets),
        "warnings": plain(assessment.warnings),
    }


def _heading(book: Book, sha256: str, version: str) -> Table:
    return {"format": book.format, "program": f"levelbook {version}", "sha256": sha256}


def _levels(levels: Levels, suspects: Sequence[Suspect], covariance: bool) -> Table:
    document: Table = {
        "groups": plain(levels.groups),
        "stations": plain(levels.stations),
        "finishes": plain(levels.finishes),
        "setups": plain(levels.setups),
        "fit": plain(levels.fit),
        "closures": plain(levels.closures),
        "residuals": plain(levels.residuals),
        "suspects": plain(tuple(suspects)),
    }
    if covariance:
        matrix = plain(levels.covariance())
        document["covariance"] = {"stations": plain(levels.ids), "matrix": matrix}
    return document


def _area(shape: AreaShape | TooFew) -> Table:
    if isinstance(shape, TooFew):
        return {"too_few": shape.stations, "needs": shape.needs}
    steepest, worst = shape.steepest, shape.deflection
    return {
        "group": shape.group,
        "range": plain(shape.range),
        "tilt": plain(shape.tilt),
        "steepest": None if steepest is None else record(steepest, start="from", end="to"),
        "deflection": None if worst is None else _line(worst),
        "walls": [_line(wall) for wall in shape.walls],
        "bend": plain(shape.bend),
        "coverage": plain(shape.coverage),
        "surface": plain(shape.surface.hyper),
    }


def _without(shape: AreaShape | None) -> Table:
    """Return range and deflection without the suspects, where there are any."""
    if shape is None:
        return {}
    worst = None if shape.deflection is None else _line(shape.deflection)
    return {"without_suspects": {"range": plain(shape.range), "deflection": worst}}


_ALONG = ("distance", "level", "level_sd", "offset")


def _line(profile: Profile) -> Table:
    """Return a profile without its arrays.

    ``shape`` goes by the sign of the deflection; whether the readings tell it from a straight
    line is apart, in ``resolved``.
    """
    table = {name: each for name, each in record(profile).items() if name not in _ALONG}
    rise = profile.deflection
    table["shape"] = "hog" if rise > 0 else "sag" if rise < 0 else None
    return table | {"resolved": profile.shape != "straight"}


def _section(profile: Profile) -> Table:
    """Return a profile with its arrays under ``profile``."""
    table = record(profile)
    return _line(profile) | {"profile": {name: table[name] for name in _ALONG}}


def _screening(screening: Screening) -> Table:
    """Return the screening; ``overruled`` only where the inspector did so."""
    table = record(screening)
    if screening.overruled is None:
        del table["overruled"]
    return table
