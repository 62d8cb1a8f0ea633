"""What the plan on the page tells about each station: its level and how it came about."""

from collections import defaultdict
from typing import Any

from levelbook.book.model import Station
from levelbook.report.corrections import Corrected, correct
from levelbook.report.sections.source import Source

_SPOKEN = ("close", "nothing", "closer", "farther", "whole")
"""What the script itself says."""


def stations_data(source: Source) -> dict[str, Any]:
    """Return labels and stations by id, all as text ready to be shown."""
    rows: dict[str, list[Corrected]] = defaultdict(list)
    for row in correct(source.book, source.assessment.levels):
        rows[row.reading.station].append(row)
    label = source.labels
    return {
        "labels": {name: label(f"web.{name}") for name in _SPOKEN},
        "stations": {s.id: _station(source, s, rows[s.id]) for s in source.book.stations},
    }


def _station(source: Source, station: Station, rows: list[Corrected]) -> dict[str, Any]:
    label, figures = source.labels, source.figures
    found = source.assessment.levels.stations.get(station.id)
    unit = source.book.units.level
    facts = [[label("web.at"), figures.place(station.at)]]
    facts.append([label("web.area"), source.area_name(station.area)])
    level = label("web.no_level")
    if found is not None:
        level = f"{figures.level(found.level)} {unit}"
        if found.sd > 0:
            level = label("web.sure", level=figures.height(found.level, found.sd, signed=True))
        zero = next(g.zero for g in source.assessment.levels.groups if g.id == found.group)
        facts.append([label("web.sd"), f"{figures.sd(found.sd)} {unit}"])
        facts.append([label("web.zero"), label("web.station", id=zero)])
    notes = [label("readings.moved", why=station.moved)] if station.moved else []
    return {
        "title": label("web.station", id=station.id),
        "level": level,
        "facts": facts,
        "notes": [*notes, *([station.note] if station.note else [])],
        "readings": [_reading(source, row) for row in rows],
    }


def _reading(source: Source, row: Corrected) -> dict[str, Any]:
    label, figures, reading = source.labels, source.figures, row.reading
    finish = source.finish_names.get(reading.finish, reading.finish)
    steps = [[label("readings.written"), reading.value]]
    if not reading.struck:
        told = (
            ("sense", figures.level(row.signed)),
            ("finish_height", figures.level(row.finish, minus=True)),
            ("constant", figures.level(row.setup, minus=True)),
            ("drift", "" if row.drift is None else figures.level(row.drift, minus=True)),
            ("gives", figures.level(row.gives)),
            ("misfit", figures.level(row.residual)),
        )
        steps += [[label(f"readings.{key}"), value] for key, value in told if value]
    together = label("readings.together") if row.together else ""
    instead = ""
    if reading.struck:
        key = "readings.instead" if reading.instead else "readings.struck"
        instead = label(key, reading=reading.instead)
    return {
        "title": label("web.reading", id=reading.id, finish=finish, setup=reading.setup),
        "struck": reading.struck,
        "steps": steps,
        "note": " ".join(filter(None, (instead, together, reading.note))),
    }
