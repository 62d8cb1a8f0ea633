"""The result document of a comparison, in the earlier visit's units, never rounded."""

from levelbook import __version__
from levelbook.book import digest
from levelbook.findings.plain import Json, Table, plain, record
from levelbook.movement.model import AreaChange, Comparison, Matching, SectionChange, Visit
from levelbook.movement.series import Series


def compare_document(
    comparison: Comparison,
    caveats: tuple[str, ...],
    *,
    series: Series | None = None,
    covariance: bool = False,
    version: str = __version__,
) -> Table:
    """Return what two visits say about movement, and under ``series`` what more of them do.

    Changes at the top are those of the area that the earlier visit's zero stands in; those of
    every area are under ``areas``. ``caveats`` are sentences.
    """
    visits = (comparison.earlier, comparison.later) if series is None else series.visits
    main = comparison.areas.get(comparison.main)
    document: Table = {
        "format": comparison.earlier.book.format,
        "program": f"levelbook {version}",
        "sha256": [digest(visit.book) for visit in visits],
        "visits": [_visit(visit) for visit in visits],
        "units": {
            "level": comparison.earlier.book.units.level,
            "plan": comparison.earlier.book.units.plan,
        },
        "matched": _matched(comparison.matching),
        "datum": _datum(comparison),
        "congruence": plain(comparison.congruence),
        "stations": plain(comparison.movements.stations),
        "area": comparison.main,
    }
    document |= _changes(main)
    document["areas"] = {name: _area(area) for name, area in comparison.areas.items()}
    document["sections"] = {name: _section(each) for name, each in comparison.sections.items()}
    document["caveats"] = list(caveats)
    if series is not None:
        document["series"] = _series(series)
    if covariance:
        document["covariance"] = {
            "stations": plain(comparison.differences.ids),
            "matrix": plain(comparison.movements.covariance),
        }
    return document


def _visit(visit: Visit) -> Table:
    """Return what tells one visit from another."""
    book = visit.book
    return {
        "label": book.property.label,
        "date": book.visit.date,
        "purpose": book.visit.purpose,
        "stations": len(visit.levels.ids),
        "sha256": digest(book),
    }


def _matched(matching: Matching) -> Table:
    return {
        "pairs": [plain(pair) for pair in matching.pairs],
        "tolerance": matching.tolerance,
        "place_tolerance": matching.place_tolerance,
        "only_earlier": plain(matching.only_earlier),
        "only_later": plain(matching.only_later),
        "elsewhere": plain(matching.elsewhere),
    }


def _datum(comparison: Comparison) -> Table:
    """Return the datum; ``shift`` is a list, one entry a block of stations."""
    datum = comparison.datum
    return record(datum) | {"agree": datum.agree}


def _changes(area: AreaChange | None) -> Table:
    """Return the three changes that no zero touches, ``null`` where not told."""
    if area is None:
        return {"tilt_change": None, "deflection_change": None, "range_change": None}
    return {
        "tilt_change": plain(area.tilt),
        "deflection_change": plain(area.deflection),
        "range_change": plain(area.range),
    }


def _area(area: AreaChange) -> Table:
    surface: Json = None if area.surface is None else plain(area.surface.hyper)
    return {"stations": area.stations, **_changes(area), "surface": surface}


def _section(section: SectionChange) -> Table:
    """Return the change along one section with the movement's profile."""
    along = record(section.movement)
    arrays = {name: along[name] for name in ("distance", "level", "level_sd", "offset")}
    return {"area": section.area, **record(section.change), "movement": arrays}


def _series(series: Series) -> Table:
    """Return all visits in time; ``visits`` of a track are positions in the list of visits."""
    line = None if series.line is None else plain(series.line.line)
    return {
        "years": plain(series.years),
        "datum": plain(series.datum),
        "congruence": [plain(each.congruence) for each in series.comparisons],
        "stations": plain(series.stations),
        "tilt": {"x": plain(series.tilt_x), "y": plain(series.tilt_y)},
        "deflection": {"line": line, "track": plain(series.deflection)},
    }
