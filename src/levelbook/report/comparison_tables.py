"""The tables of a comparison's report, every figure with its give-or-take."""

from levelbook.book import digest
from levelbook.drawing.wording import decimals_of
from levelbook.findings.comparison import day_text, say
from levelbook.findings.judge import Z95
from levelbook.movement.model import Change, Comparison, StationMovement, Visit
from levelbook.movement.series import Series, Track
from levelbook.report.blocks import Block, Column, Fact, Facts, Mark, Prose, Row, Table
from levelbook.report.figures import NONE, Figures, grouped

Told = tuple[Mark, str]


class Tables:
    """Prints the parts of one comparison in the earlier visit's units."""

    def __init__(self, found: Comparison, series: Series | None) -> None:
        self.found, self.series = found, series
        self.book = found.earlier.book
        self.figures = Figures(self.book.units, decimals_of(self.book))

    def points(self, sentences: tuple[str, ...]) -> Prose:
        """Return sentences as a list."""
        return Prose(sentences, "list")

    def prose(self, sentences: tuple[str, ...]) -> Prose:
        """Return sentences as paragraphs."""
        return Prose(sentences)

    def summary(self) -> tuple[Table, ...]:
        """Return the changes that no zero touches, the test, and how many places stand out."""
        area = self.found.areas.get(self.found.main)
        rows = []
        if area is not None and area.tilt is not None:
            figure = self.figures.slope(area.tilt.value, area.tilt.sd)
            rows.append(self._row("tilt", figure, shown=area.tilt.significant))
        if area is not None and area.deflection is not None:
            change = area.deflection
            figure = self._height(change.value, change.sd)
            rows.append(self._row("bend", figure, shown=change.significant))
        if area is not None and isinstance(area.range, Change):
            figure = self._height(area.range.value, area.range.sd)
            rows.append(self._row("range", figure, shown=area.range.significant))
        test = self.found.congruence
        if test.statistic is not None and test.limit is not None:
            figures = {"statistic": f"{test.statistic:.2f}", "limit": f"{test.limit:.2f}"}
            said = say("quantity.statistic", **figures)
            rows.append(self._row("test", said, shown=bool(test.moved)))
        stations = self.found.movements.stations.values()
        counts = {"changed": str(sum(s.significant for s in stations)), "count": str(len(stations))}
        places = say("quantity.above-least", **counts)
        rows.append(self._row("places", places, shown=any(s.significant for s in stations)))
        columns = (
            Column(say("column.quantity"), width=1.4),
            Column(say("column.change"), width=1.4),
            Column(say("column.state"), width=1),
        )
        return (Table(say("heading.statement"), columns, tuple(rows), titled=False),)

    def _row(self, key: str, figure: str, *, shown: bool) -> Row:
        mark, word = _state(shown=shown)
        return Row((say(f"quantity.{key}"), figure, word), mark=mark)

    def _height(self, value: float, sd: float) -> str:
        return self.figures.height(value, sd, signed=True)

    def places(self) -> tuple[Block, ...]:
        """Return every place read on both visits with its change.

        Half of the 95 % interval is also the least change that the place could show.
        """
        unit = self.book.units.level
        rows = tuple(
            self._place(station, told) for station, told in self.found.movements.stations.items()
        )
        columns = (
            Column(say("column.place")),
            Column(f"{say('column.change')} ({unit})", "right"),
            Column(f"{say('column.half')} ({unit})", "right"),
            Column(say("column.state"), width=1.2),
            Column(say("column.datum"), width=0.6),
        )
        table = Table(say("heading.places"), columns, rows, dense=True, titled=False)
        return (Prose((say("column.half-note"),), "quiet"), table)

    def _place(self, station: str, told: StationMovement) -> Row:
        holds = say("state.holds" if told.in_datum else "state.freed")
        if told.moved is None or told.sd is None:
            return Row((station, NONE, NONE, say("state.unknown"), holds), mark="unknown")
        mark, word = _state(shown=told.significant)
        moved, half = self.figures.level(told.moved), self.figures.sd(Z95 * told.sd)
        return Row((station, moved, half, word, holds), mark=mark)

    def sections(self) -> tuple[Table, ...]:
        """Return the change of bend along every section."""
        rows = []
        for name, section in self.found.sections.items():
            change = section.change
            mark, word = _state(shown=change.significant)
            length = self.figures.length(change.length)
            rows.append(Row((name, length, self._height(change.value, change.sd), word), mark=mark))
        columns = (
            Column(say("column.section"), width=1),
            Column(say("column.length"), "right"),
            Column(say("column.change"), "right"),
            Column(say("column.state"), width=1.2),
        )
        if not rows:
            return ()
        return (Table(say("heading.sections"), columns, tuple(rows), titled=False),)

    def visits(self) -> tuple[Block, ...]:
        """Return who read what and when, and the fingerprints of the records."""
        both = (self.found.earlier, self.found.later)
        visits = both if self.series is None else self.series.visits
        return tuple(self._visit(visit) for visit in visits)

    def fingerprints(self) -> tuple[Table, ...]:
        """Return day, places and fingerprint of the first and the last visit."""
        rows = tuple(
            Row((day_text(v.book), str(len(v.levels.ids)), grouped(digest(v.book))))
            for v in (self.found.earlier, self.found.later)
        )
        columns = (
            Column(say("column.visit"), width=1),
            Column(say("column.places"), "right"),
            Column(say("column.fingerprint"), width=1.6),
        )
        return (Table(say("heading.visits"), columns, rows, titled=False),)

    def _visit(self, visit: Visit) -> Facts:
        book = visit.book
        who = ", ".join(filter(None, (book.visit.surveyor, book.visit.licence, book.visit.firm)))
        told = [
            Fact(say("column.places"), str(len(visit.levels.ids))),
            Fact(say("column.surveyor"), who or NONE),
            Fact(
                say("column.instrument"),
                ", ".join(i.kind.replace("-", " ") for i in book.instruments),
            ),
        ]
        full = digest(book)
        mark = Fact(say("column.fingerprint"), grouped(full), full)
        return Facts(day_text(book), (*told, mark), plain=True)

    def trend(self) -> tuple[Block, ...]:
        """Return the lines through all visits, where there are enough for one."""
        series = self.series
        if series is None:
            return ()
        tracks: list[tuple[str, Track | None, bool]] = [
            (say("trend.tilt-x"), series.tilt_x, True),
            (say("trend.tilt-y"), series.tilt_y, True),
            (say("quantity.bend"), series.deflection, False),
        ]
        told = self.found.movements.stations
        tracks += [
            (f"{say('column.place')} {i}", track, False)
            for i, track in series.stations.items()
            if told.get(i) is not None and told[i].significant
        ]
        rows = [row for row in (self._track(*each) for each in tracks) if row is not None]
        note = Prose((say("trend.no-forecast" if rows else "trend.none"),), "quiet")
        if not rows:
            return (note,)
        columns = (
            Column(say("column.quantity"), width=1.2),
            Column(say("column.yearly"), width=1.2),
            Column(say("column.swing"), width=1),
        )
        swings = any(row.cells[2] != NONE for row in rows)
        span = {"count": str(len(series.visits)), "years": f"{series.years[-1]:.1f}"}
        title = say("trend.yearly" if swings else "trend.line", **span)
        return (Table(title, columns, tuple(rows)), note)

    def _track(self, name: str, track: Track | None, slope: bool) -> Row | None:
        trend = None if track is None else track.trend
        if trend is None:
            return None
        rate = self._rate(trend.rate, trend.rate_sd, slope=slope)
        if trend.swing is None or trend.swing_sd is None:
            return Row((name, rate, NONE))
        return Row((name, rate, self._rate(trend.swing, trend.swing_sd, slope=slope, plus=False)))

    def _rate(self, value: float, sd: float, *, slope: bool, plus: bool = True) -> str:
        if not slope:
            return self.figures.height(value, sd, signed=plus)
        told = self.figures.slope(value, sd)
        return f"−{told}" if value < 0 else f"+{told}" if plus else told


def _state(*, shown: bool) -> Told:
    return ("beyond", say("state.out")) if shown else ("within", say("state.within"))
