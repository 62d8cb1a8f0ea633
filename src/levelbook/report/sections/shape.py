"""The shape of each floor: range, tilt, steepest slope, deflection, bend and profiles."""

from levelbook.book.units import rise_per_run
from levelbook.findings.display import direction_known
from levelbook.floor.model import Profile, Steepest, Tilt, TooFew
from levelbook.floor.shape import AreaShape
from levelbook.report.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Heading,
    Picture,
    Prose,
    Row,
    Section,
    Table,
)
from levelbook.report.sections.source import Source

MOST_DRAWN = 8
"""Profiles that are drawn; every line is in the table of lines."""


def shape_section(source: Source, pictures: tuple[Picture, ...]) -> Section:
    """Return what is known of each floor's shape, then the drawings of it."""
    blocks: list[Block] = [Prose((source.labels("shape.reading"),), "quiet")]
    for area, shape in source.assessment.floor.areas.items():
        blocks.append(Heading(source.area_name(area)))
        if isinstance(shape, TooFew):
            words = source.labels("shape.too_few", stations=shape.stations, needs=shape.needs)
            blocks.append(Prose((words,)))
        else:
            blocks.append(Facts("", area_facts(source, shape)))
    blocks += pictures
    lines = _lines(source)
    if lines:
        blocks.append(lines)
    return Section("shape", source.labels("shape.title"), tuple(blocks))


def area_facts(source: Source, shape: AreaShape) -> tuple[Fact, ...]:
    """Return the shape of one area as labelled values, each with its uncertainty."""
    label = source.labels
    wide = shape.range
    facts = [
        Fact(
            label("shape.range"),
            source.figures.height(wide.value, wide.sd),
            label("shape.range_detail", high=wide.high, low=wide.low),
        ),
        _tilt(source, shape.tilt),
    ]
    if shape.steepest is not None:
        facts.append(_steepest(source, shape.steepest))
    if shape.deflection is not None:
        facts.append(_deflection(source, shape.deflection))
    facts.append(Fact(label("shape.bend"), label.of("bend", shape.bend.word), shape.bend.why))
    return tuple(facts)


def _tilt(source: Source, tilt: Tilt) -> Fact:
    label, figures = source.labels, source.figures
    known = direction_known(tilt.slope, tilt.sd)
    detail = label(
        "shape.tilt_detail",
        percent=figures.percent(tilt.slope, tilt.sd),
        toward=source.toward(tilt.direction) if known else label("shape.unknown_way"),
        plain=figures.percent(tilt.readings_slope, tilt.readings_sd or 0.0),
    )
    return Fact(label("shape.tilt"), figures.slope(tilt.slope, tilt.sd), detail)


def _steepest(source: Source, steepest: Steepest) -> Fact:
    label, figures = source.labels, source.figures
    detail = label(
        "shape.steepest_detail",
        percent=figures.percent(steepest.slope, steepest.sd),
        start=steepest.start,
        end=steepest.end,
        distance=figures.length(steepest.distance),
        apart=figures.length(steepest.min_apart),
    )
    return Fact(label("shape.steepest"), figures.slope(steepest.slope, steepest.sd), detail)


def _deflection(source: Source, profile: Profile) -> Fact:
    label, figures = source.labels, source.figures
    detail = label(
        "shape.deflection_detail",
        ratio=_ratio(source, profile),
        length=figures.length(profile.length),
        line=source.line(profile.line),
    )
    shape = label.of("bend", profile.shape)
    value = f"{figures.height(profile.deflection, profile.sd, signed=True)}, {shape}"
    return Fact(label("shape.deflection"), value, detail)


def _ratio(source: Source, profile: Profile) -> str:
    """Return the deflection over its length as "1 in N" with the N of its interval."""
    scale = rise_per_run(source.book.units) / profile.length
    return source.figures.one_in(profile.deflection * scale, profile.sd * scale)


def profiles(source: Source) -> tuple[tuple[str, Profile], ...]:
    """Return every profile worth a line: the worst of each area, sections, walls."""
    label, floor = source.labels, source.assessment.floor
    named: list[tuple[str, Profile]] = []
    shapes = [s for s in floor.areas.values() if isinstance(s, AreaShape)]
    for shape in shapes:
        if shape.deflection is not None:
            named.append(
                (label("shape.worst", area=source.area_name(shape.area)), shape.deflection)
            )
    named += [(label("shape.section", id=id_), p) for id_, p in floor.sections.items()]
    for shape in shapes:
        area = source.area_name(shape.area)
        named += [(label("shape.wall", n=n, area=area), p) for n, p in enumerate(shape.walls, 1)]
    return tuple(named)


def drawn_profiles(source: Source) -> tuple[tuple[str, Profile], ...]:
    """Return the profiles that are drawn: worst lines and sections, then the bent walls."""
    named = profiles(source)
    chosen = [(name, p) for name, p in named if not p.source.startswith("wall")]
    walls = [
        (name, p) for name, p in named if p.source.startswith("wall") and p.shape != "straight"
    ]
    walls.sort(key=lambda pair: -abs(pair[1].deflection))
    return tuple((chosen + walls)[:MOST_DRAWN])


def _lines(source: Source) -> Table | None:
    label, figures = source.labels, source.figures
    rows = tuple(
        Row(
            (
                name,
                source.line(p.line),
                figures.length(p.length),
                figures.level(p.deflection),
                figures.sd(p.sd),
                _ratio(source, p),
                label.of("bend", p.shape),
            )
        )
        for name, p in profiles(source)
    )
    if not rows:
        return None
    unit = source.book.units.level
    columns = (
        Column(label("shape.name"), width=2),
        Column(label("shape.ends"), width=2.3),
        Column(label("shape.length"), "right"),
        Column(label("shape.offset", unit=unit), "right"),
        Column(label("readings.sd"), "right"),
        Column(label("shape.ratio"), width=2.4),
        Column(label("shape.form")),
    )
    return Table(label("shape.lines"), columns, rows, dense=True)
