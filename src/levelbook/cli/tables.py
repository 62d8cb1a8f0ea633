"""Results as tables on a terminal; ± is half of the 95 % interval, as in the report."""

import math
from collections.abc import Iterable, Mapping, Sequence

from rich.console import Console
from rich.text import Text

from levelbook.book.numbers import counted
from levelbook.book.units import rise_per_run
from levelbook.cli.printer import Printer
from levelbook.drawing.terminal import text_plan, text_profile
from levelbook.drawing.wording import Z95, decimals_of, direction_sd
from levelbook.findings.criteria import CriteriaSet
from levelbook.findings.display import direction_known, finding_text
from levelbook.findings.model import Assessment, Finding
from levelbook.floor.model import Profile, Suspect, Tilt, TooFew
from levelbook.floor.shape import AreaShape, Floor
from levelbook.levels.model import Levels
from levelbook.report.figures import NONE, Figures


def figures_of(printer: Printer) -> Figures:
    """Return what prints the quantities of the printer's book."""
    return Figures(printer.book.units, decimals_of(printer.book))


def levels(printer: Printer, result: Levels) -> None:
    """Print the levels by group, then what the readings determine beside them."""
    show = figures_of(printer)
    for group in result.groups:
        printer.table(
            f"Group {group.id}: levels above station {group.zero}",
            ("station", ">level", ">sd", "readings"),
            (
                (
                    name,
                    show.level(result.stations[name].level),
                    show.sd(result.stations[name].sd),
                    ", ".join(result.stations[name].readings),
                )
                for name in group.stations
            ),
        )
    printer.table(
        "Finishes",
        ("finish", ">height", ">sd", "group"),
        (
            (name, show.level(finish.height), show.sd(finish.sd), finish.group or NONE)
            for name, finish in result.finishes.items()
        ),
    )
    printer.table(
        "Setups",
        ("setup", ">constant", ">sd", ">drift per hour", ">sd", "group"),
        (
            (
                name,
                *(show.level(each.constant), show.sd(each.sd)),
                *(show.level(each.drift), show.sd(each.drift_sd)),
                each.group or NONE,
            )
            for name, each in result.setups.items()
        ),
    )
    closures(printer, result)
    fit(printer, result)


def closures(printer: Printer, result: Levels) -> None:
    """Print the closing checks."""
    show = figures_of(printer)
    printer.table(
        "Closing checks",
        ("station", "setup", "first", "last", ">misclosure", ">allowed"),
        (
            (c.station, c.setup, c.first, c.last, show.level(c.misclosure), show.sd(c.allowed))
            for c in result.closures
        ),
    )


def fit(printer: Printer, result: Levels) -> None:
    """Print the global test in one sentence."""
    test = result.fit
    if test.ok is None or test.chi2_low is None or test.chi2_high is None:
        printer.say("\nThe readings do not check each other: no test of their precision.")
        return
    verdict = "agrees with what the instruments' standard deviation lets expect"
    if test.chi2 > test.chi2_high:
        verdict = "is more than the instruments' standard deviation explains"
    elif test.chi2 < test.chi2_low:
        verdict = (
            "is less than the instruments' standard deviation lets expect; a few readings "
            "repeated often agree so well, as they are rounded the same way again"
        )
    printer.say(
        f"\nTest of all readings: chi-square {test.chi2:.1f} with {test.dof} to spare "
        f"(between {test.chi2_low:.1f} and {test.chi2_high:.1f} expected): their scatter {verdict}."
    )


def suspects(printer: Printer, found: Sequence[Suspect]) -> None:
    """Print the readings that do not fit; nothing is changed by itself."""
    show = figures_of(printer)
    printer.table(
        "Readings that do not fit (none was changed)",
        ("reading", "station", ">as written", ">expected", ">sd", "perhaps", ">odds", "why"),
        (
            (
                s.reading,
                s.station,
                s.value,
                show.level(s.expected),
                show.sd(s.expected_sd),
                s.suggestion or "",
                odds(s.odds),
                s.why,
            )
            for s in found
        ),
    )


def odds(value: float) -> str:
    """Return odds as people say them."""
    return f"{value:,.0f} to 1" if value < 1e6 else "over a million to 1"


def shape(printer: Printer, floor: Floor, without: Mapping[str, AreaShape]) -> None:
    """Print what is said about the shape of every area, then the drawn sections.

    Range and deflection of the shapes ``without`` suspects stand beside those with them.
    """
    for name, area in floor.areas.items():
        if isinstance(area, TooFew):
            read = counted(area.stations, "station")
            printer.say(f"\nArea {name}: {read}, too few for a shape; {area.needs} are needed.")
        else:
            rows = [*_area_rows(printer, area), *_without_rows(printer, without.get(name))]
            printer.table(f"Area {name}", ("", "", ""), rows)
    printer.table(
        "Sections",
        ("section", ">length", ">deflection", ">ratio", "shape"),
        ((name, *_profile_cells(printer, profile)) for name, profile in floor.sections.items()),
    )


def _area_rows(printer: Printer, area: AreaShape) -> Iterable[tuple[str, str, str]]:
    show = figures_of(printer)
    high_low = f"station {area.range.high} to {area.range.low}"
    yield "range", show.height(area.range.value, area.range.sd), high_low
    tilt = show.slope(area.tilt.slope, area.tilt.sd)
    yield "tilt", tilt, f"{show.one_in(area.tilt.slope, area.tilt.sd)}, {_way(area.tilt)}"
    if area.steepest is not None:
        ends = f"station {area.steepest.start} to {area.steepest.end}"
        over = f"{ends}, {show.length(area.steepest.distance)}"
        yield "steepest", show.slope(area.steepest.slope, area.steepest.sd), over
    if area.deflection is not None:
        length, deflection, ratio, word = _profile_cells(printer, area.deflection)
        yield "deflection", deflection, f"{ratio}, {word}, over {length}"
    yield "bend", area.bend.word, area.bend.why
    gap = f"largest gap {show.length(area.coverage.largest_gap)}"
    share = f"{100 * area.coverage.share_beyond:.0f} % of the floor farther than "
    yield "coverage", gap, share + f"{show.length(area.coverage.spacing)} from a station"


def _way(tilt: Tilt) -> str:
    """Return where the floor falls to, as far as the readings tell."""
    if tilt.direction is None or not direction_known(tilt.slope, tilt.sd):
        return "no clear fall to one side"
    half = math.ceil(Z95 * direction_sd(tilt))
    return f"falls toward {tilt.direction:.0f} ± {half}° clockwise from up the sheet"


def _without_rows(printer: Printer, area: AreaShape | None) -> Iterable[tuple[str, str, str]]:
    """Yield range and deflection of a shape without the readings that look like slips."""
    if area is None:
        return
    told = "without readings that look like slips"
    yield "  range", figures_of(printer).height(area.range.value, area.range.sd), told
    if area.deflection is not None:
        length, deflection, ratio, word = _profile_cells(printer, area.deflection)
        yield "  deflection", deflection, f"{told}: {ratio}, {word}, over {length}"


def _profile_cells(printer: Printer, profile: Profile) -> tuple[str, str, str, str]:
    show = figures_of(printer)
    per_length = rise_per_run(show.units) / profile.length
    ratio = show.one_in(profile.deflection * per_length, profile.sd * per_length)
    deflection = show.height(profile.deflection, profile.sd, signed=True)
    return show.length(profile.length), deflection, ratio, profile.shape


def findings(printer: Printer, result: Assessment) -> None:
    """Print every criterion with its state and source, then the outcome of the screening."""
    sources = dict.fromkeys(finding.source for finding in result.findings)
    numbers = {source: number for number, source in enumerate(sources, start=1)}
    printer.table(
        "Criteria",
        ("state", "criterion", "area", ">measured", ">limit", "basis"),
        (_finding_cells(finding, numbers[finding.source]) for finding in result.findings),
    )
    printer.points("Sources", (f"[{number}] {told}" for told, number in numbers.items()))
    printer.say(f"\nScreening: {result.screening.outcome}", "bold")
    printer.points("Why", result.screening.reasons)
    printer.points("Cautions", result.screening.cautions)


def _finding_cells(finding: Finding, number: int) -> tuple[str, ...]:
    """Return the cells of one finding; ``number`` is that of its source in the list below."""
    measured, limit = finding_text(finding)
    place = finding.area or NONE
    basis = f"{finding.basis} [{number}]"
    return finding.state, finding.title, place, measured, limit, basis


def water(printer: Printer, result: Assessment) -> None:
    """Print where water goes on garage floors and beside the walls, in words."""
    for area, told in result.words.garages.items():
        printer.points(f"Where water goes, {area}", told)
    printer.points("The ground outside", result.words.ground)
    printer.points("Take care", result.words.water_cautions)


def assessment(printer: Printer, result: Assessment) -> None:
    """Print everything that was computed from a book."""
    printer.head()
    printer.drawing(text_plan(result, printer.width, unicode=printer.unicode))
    shape(printer, result.floor, result.without)
    for name, profile in result.floor.sections.items():
        printer.say(f"\nSection {name}", "bold")
        units = result.book.units
        printer.drawing(text_profile(profile, units, printer.width, unicode=printer.unicode))
    suspects(printer, result.floor.suspects)
    water(printer, result)
    findings(printer, result)
    printer.points("A careful colleague would ask", result.warnings)


def criteria_sets(console: Console, sets: Sequence[CriteriaSet]) -> None:
    """Print the sets of criteria with their limits and sources."""
    for each in sets:
        console.print(Text(f"\n{each.id}: {each.title}", style="bold"))
        console.print(Text(f"{each.edition}. {each.applies_when}"))
        for criterion in each.criteria:
            asked = "at least " if criterion.at_least else ""
            limit = f"{asked}{criterion.limit:g} {criterion.unit}"
            told = f"  • {criterion.title}: {criterion.quantity}, {limit} ({criterion.basis})"
            console.print(Text(told))
            console.print(Text(f"    {criterion.source}", style="dim"))
