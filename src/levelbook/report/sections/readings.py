"""Readings from as written to level, every correction shown; stations; and those in doubt."""

from levelbook.book.model import Station
from levelbook.floor.model import Suspect
from levelbook.report.blocks import Block, Column, Prose, Row, Section, Table
from levelbook.report.corrections import Corrected, correct
from levelbook.report.figures import NONE, number
from levelbook.report.sections.source import Source

STEPS = ("sense", "finish_height", "constant", "drift", "gives")


def readings_section(source: Source) -> Section:
    """Return all readings in the order they were written, each with its way to a level."""
    label, unit = source.labels, source.unit
    rows = correct(source.book, source.assessment.levels)
    drifts = any(row.drift is not None for row in rows)
    columns = [
        Column(label("readings.reading")),
        Column(label("readings.station")),
        Column(label("readings.finish"), width=1),
        Column(label("readings.setup")),
        Column(label("readings.written"), "right"),
        *(Column(label(f"readings.{s}"), "right") for s in STEPS if drifts or s != "drift"),
        Column(label("readings.misfit"), "right"),
        Column(label("readings.level"), "right"),
        Column(label("readings.sd"), "right"),
    ]
    table = Table(
        label("readings.caption", unit=unit),
        tuple(columns),
        tuple(_row(source, row, drifts) for row in rows),
        dense=True,
    )
    how = [label("readings.how", unit=unit)]
    if drifts:
        how.append(label("readings.how_drift"))
    if len(source.assessment.levels.groups) > 1:
        how.append(label("readings.how_groups"))
    if any(row.reading.struck for row in rows):
        how.append(label("readings.how_struck"))
    blocks: tuple[Block, ...] = (Prose(tuple(how), "quiet"), table)
    return Section("readings", label("readings.title"), blocks)


def _row(source: Source, row: Corrected, drifts: bool) -> Row:
    reading, figures = row.reading, source.figures

    steps = [figures.level(row.signed), figures.level(row.finish, minus=True)]
    steps.append(figures.level(row.setup, minus=True))
    if drifts:
        steps.append(figures.level(row.drift, minus=True))
    cells = (
        reading.id,
        reading.station,
        source.finish_names.get(reading.finish, reading.finish),
        reading.setup,
        reading.value,
        *steps,
        figures.level(row.gives),
        figures.level(row.residual),
        figures.level(row.level),
        figures.sd(row.sd),
    )
    return Row(cells, struck=reading.struck, note=_note(source, row))


def _note(source: Source, row: Corrected) -> str:
    reading, label = row.reading, source.labels
    station = next((s for s in source.book.stations if s.id == reading.station), None)
    parts = []
    if reading.struck and reading.instead:
        parts.append(label("readings.instead", reading=reading.instead))
    elif reading.struck:
        parts.append(label("readings.struck"))
    if station and station.moved:
        parts.append(label("readings.moved", why=station.moved))
    if row.together:
        parts.append(label("readings.together"))
    notes = (station.note if station else None, reading.note)
    return " ".join([*parts, *(note for note in notes if note)])


def stations_section(source: Source) -> Section:
    """Return every station with its place on the plan and its level."""
    label, unit, plan = source.labels, source.unit, source.book.units.plan
    columns = (
        Column(label("readings.station")),
        Column(label("stations.area"), width=1),
        Column(label("stations.x", unit=plan), "right"),
        Column(label("stations.y", unit=plan), "right"),
        Column(label("stations.level", unit=unit), "right"),
        Column(label("readings.sd"), "right"),
        Column(label("stations.zero")),
        Column(label("stations.readings"), width=2),
    )
    rows = tuple(_station(source, station) for station in source.book.stations)
    table = Table(label("stations.caption"), columns, rows, dense=True, titled=False)
    how = Prose((label("stations.how"),), "quiet")
    return Section("places", label("stations.title"), (how, table))


def _station(source: Source, station: Station) -> Row:
    levels, figures = source.assessment.levels, source.figures
    found = levels.stations.get(station.id)
    places = 1 if source.book.units.plan == "ft" else 2
    x, y = (number(each, places) for each in station.at)
    where = (station.id, source.area_name(station.area), x, y)
    if found is None:
        return Row((*where, NONE, NONE, NONE, NONE))
    zero = next(group.zero for group in levels.groups if group.id == found.group)
    told = (figures.level(found.level), figures.sd(found.sd), zero, ", ".join(found.readings))
    return Row((*where, *told))


def suspects_section(source: Source) -> Section:
    """Return the readings that do not fit, with what each may have meant."""
    label = source.labels
    suspects = source.assessment.floor.suspects
    if not suspects:
        return Section("suspects", label("suspects.title"), (Prose((label("suspects.none"),)),))
    columns = (
        Column(label("readings.reading")),
        Column(label("readings.station")),
        Column(label("readings.written"), "right"),
        Column(label("suspects.expected"), "right"),
        Column(label("readings.sd"), "right"),
        Column(label("suspects.kind"), width=1),
        Column(label("suspects.suggestion"), "right"),
        Column(label("suspects.odds"), "right"),
    )
    rows = tuple(_suspect(source, suspect) for suspect in suspects)
    caption = label("suspects.caption", unit=source.unit)
    told = Prose((label("suspects.unchanged"),))
    return Section("suspects", label("suspects.title"), (told, Table(caption, columns, rows)))


def _suspect(source: Source, suspect: Suspect) -> Row:
    cells = (
        suspect.reading,
        suspect.station,
        suspect.value,
        source.figures.level(suspect.expected),
        source.figures.sd(suspect.expected_sd),
        source.labels.of("suspect", suspect.kind),
        suspect.suggestion or NONE,
        odds(suspect.odds),
    )
    return Row(cells, note=suspect.why)


def odds(value: float) -> str:
    """Return odds as "n : 1" or "1 : n"; beyond a million nothing more can be told."""
    if value >= 1e6:
        return "> 10⁶ : 1"
    if value >= 1:
        return f"{number(value, 0)} : 1"
    return f"1 : {number(1 / value, 0)}" if value > 1e-6 else "1 : > 10⁶"
