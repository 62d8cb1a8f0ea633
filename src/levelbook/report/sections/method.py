"""How it was measured and how sure it is."""

from levelbook.book.model import Instrument
from levelbook.drawing.source import shapes
from levelbook.floor.model import Coverage
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
from levelbook.report.figures import NONE, number, written
from levelbook.report.sections.source import Source


def method_section(source: Source, pictures: tuple[Picture, ...]) -> Section:
    """Return instruments, tests, closures, groups, finish heights and coverage."""
    label = source.labels
    blocks: list[Block] = [_instrument(source, i) for i in source.book.instruments]
    blocks += [_fit(source), *_closures(source), *_groups(source), *_heights(source)]
    first = 1
    for shape in shapes(source.assessment):
        blocks += _coverage(source, source.area_name(shape.area), shape.coverage, first)
        first += len(shape.coverage.next)
    blocks += pictures
    if source.assessment.warnings:
        blocks.append(Heading(label("method.warnings")))
        blocks.append(Prose(source.assessment.warnings, "list"))
    return Section("method", label("method.title"), tuple(blocks))


def _instrument(source: Source, instrument: Instrument) -> Facts:
    label, unit = source.labels, source.book.units.level
    sense = label.of("sense", instrument.higher_reads)
    facts = [
        Fact(label("method.kind"), label.of("instrument", instrument.kind), sense),
        Fact(label("method.resolution"), f"{written(instrument.resolution)} {unit}"),
        Fact(
            label("method.sd"),
            f"{written(instrument.sd)} {unit}",
            label("method.sd_detail", unit=unit),
        ),
    ]
    if instrument.reach is not None:
        facts.append(Fact(label("method.reach"), source.figures.length(instrument.reach)))
    if instrument.serial:
        facts.append(Fact(label("method.serial"), instrument.serial))
    if instrument.checks:
        told = "; ".join(
            label("method.check", date=c.date, known=c.known, read=c.read, unit=unit)
            for c in instrument.checks
        )
        facts.append(Fact(label("method.checks"), told))
    return Facts(label("method.instrument", id=instrument.id), tuple(facts))


def _fit(source: Source) -> Facts:
    label, fit = source.labels, source.assessment.levels.fit
    facts = [
        Fact(
            label("method.redundancy"),
            label("method.counts", readings=fit.readings, unknowns=fit.unknowns, spare=fit.dof),
        )
    ]
    if fit.ok is None or fit.chi2_low is None or fit.chi2_high is None:
        facts.append(Fact(label("method.test"), label("method.untested")))
    else:
        detail = label(
            "method.test_detail",
            chi2=number(fit.chi2, 1),
            low=number(fit.chi2_low, 1),
            high=number(fit.chi2_high, 1),
        )
        high = fit.chi2 > fit.chi2_high
        word = "passed" if fit.ok else "too_rough" if high else "too_smooth"
        facts.append(Fact(label("method.test"), label(f"method.{word}"), detail))
    return Facts(label("method.adjustment"), tuple(facts))


def _closures(source: Source) -> list[Block]:
    label, unit = source.labels, source.unit
    closures = source.assessment.levels.closures
    if not closures:
        return [Heading(label("method.closures")), Prose((label("method.no_closures"),))]
    figures = source.figures
    rows = tuple(
        Row(
            (
                c.station,
                c.setup,
                c.first,
                c.last,
                figures.level(c.misclosure),
                number(c.allowed, figures.places),
                label("method.closed" if abs(c.misclosure) <= c.allowed else "method.open"),
            ),
            mark="within" if abs(c.misclosure) <= c.allowed else "beyond",
        )
        for c in closures
    )
    columns = (
        Column(label("readings.station")),
        Column(label("readings.setup")),
        Column(label("method.first")),
        Column(label("method.last")),
        Column(label("method.misclosure"), "right"),
        Column(label("method.allowed"), "right"),
        Column(label("findings.state"), width=1),
    )
    setups = source.assessment.levels.setups
    drifts = any(setups[c.setup].drift is not None for c in closures)
    told = [Prose((label("method.closures_drift"),), "quiet")] if drifts else []
    return [Table(label("method.closures_caption", unit=unit), columns, rows), *told]


def _groups(source: Source) -> list[Block]:
    label = source.labels
    groups = source.assessment.levels.groups
    rows = tuple(
        Row((g.id, g.zero, source.finish_names.get(g.finish, g.finish), str(len(g.stations))))
        for g in groups
    )
    columns = (
        Column(label("method.group"), width=1),
        Column(label("method.zero"), width=1),
        Column(label("method.zero_finish"), width=2),
        Column(label("method.stations"), "right"),
    )
    blocks: list[Block] = [Table(label("method.groups_caption"), columns, rows)]
    if len(groups) > 1:
        blocks.append(Prose((label("method.groups_apart"),)))
    return blocks


def _heights(source: Source) -> list[Block]:
    label, levels = source.labels, source.assessment.levels
    figures, unit = source.figures, source.unit
    finishes = tuple(
        Row(
            (
                source.finish_names.get(id_, id_),
                figures.level(f.height),
                figures.sd(f.sd),
                f.group or NONE,
            ),
            note=label("method.unpaired") if f.height is None else "",
        )
        for id_, f in levels.finishes.items()
    )
    setups = tuple(
        Row(
            (
                id_,
                figures.level(s.constant),
                figures.sd(s.sd),
                figures.level(s.drift),
                figures.sd(s.drift_sd),
                s.group or NONE,
            )
        )
        for id_, s in levels.setups.items()
    )
    name, group = 2.0, Column(label("method.group"))
    sd = Column(label("readings.sd"), "right", 1)
    height = (
        Column(label("readings.finish"), width=name),
        Column(label("method.height"), "right", 1),
    )
    constant = (
        Column(label("readings.setup"), width=name),
        Column(label("method.constant"), "right", 1),
    )
    drift = Column(label("method.drift"), "right", 1)
    return [
        Table(label("method.finishes_caption", unit=unit), (*height, sd, group), finishes),
        Table(label("method.setups_caption", unit=unit), (*constant, sd, drift, sd, group), setups),
    ]


def _coverage(source: Source, area: str, coverage: Coverage, first: int) -> list[Block]:
    """Return how an area is covered; ``first`` is the number of its first place on the drawing."""
    label, figures = source.labels, source.figures
    facts = [
        Fact(
            label("method.gap"),
            figures.length(coverage.largest_gap),
            label("method.gap_detail", at=figures.place(coverage.largest_gap_at)),
        ),
        Fact(
            label("method.share", spacing=figures.length(coverage.spacing)),
            f"{number(100 * coverage.share_beyond, 0)} %",
        ),
        Fact(
            label("method.corners"),
            "; ".join(map(figures.place, coverage.missed_corners)) or label("method.no_corners"),
        ),
    ]
    if coverage.next:
        places = "; ".join(
            label("method.next_place", n=n, at=figures.place(place.at))
            for n, place in enumerate(coverage.next, first)
        )
        facts.append(Fact(label("method.next"), places, label("method.next_detail")))
    return [Facts(label("method.coverage", area=area), tuple(facts))]
