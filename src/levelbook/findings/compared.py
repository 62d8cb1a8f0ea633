"""The result document of a comparison, in the earlier visit's units, never rounded."""

from levelbook import __version__
from levelbook.book import digest
from levelbook.findings.plain import Json, Table, plain, record
from levelbook.movement.model import AreaChange, Comparison, Matching, SectionChange, Visit


def compare_document(
    comparison: Comparison,
    caveats: tuple[str, ...],
    *,
    covariance: bool = False,
    version: str = __version__,
) -> Table:
    """Return what two visits say about movement.

    Changes at the top are those of the area that the earlier visit's zero stands in; those of
    every area are under ``areas``. ``caveats`` are sentences.
    """
    visits = (comparison.earlier, comparison.later)
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
