"""Drift of a setup: when it is an unknown, how time is counted, and what it comes to."""

from collections.abc import Sequence

import numpy as np
import pytest
from level_books import changed, instrument, make_book

from levelbook.levels import reduce
from levelbook.levels.drift import moment, setup_hours

DAY = "2026-03-02"


def at(minutes: float | None) -> str | None:
    """Return the time so many minutes after nine."""
    if minutes is None:
        return None
    return f"{DAY}T{9 + int(minutes) // 60:02}:{int(minutes) % 60:02}:00"


def walk(minutes: Sequence[float | None], stations: str, drift: float = 0.12) -> list[tuple]:
    """Return readings of one setup along ``stations`` that drift by so much an hour.

    Readings without a time are where they are in the order between their neighbours.
    """
    known = [i for i, m in enumerate(minutes) if m is not None] or [0]
    hours = np.interp(range(len(minutes)), known, [(minutes[i] or 0) / 60 for i in known])
    level = {name: 0.25 * i for i, name in enumerate(dict.fromkeys(stations))}
    return [
        ("A", s, "tile", 1.5 + level[s] + drift * h, at(m))
        for s, h, m in zip(stations, hours, minutes, strict=True)
    ]


def drift_of(rows: list[tuple]) -> float | None:
    """Return the drift of setup A in a book of these readings."""
    return reduce(make_book(rows)).setups["A"].drift


@pytest.mark.parametrize("sense", ["more", "less"])
def test_a_drift_is_taken_out(sense: str) -> None:
    """Readings without error give drift per hour, constant at the start and true levels."""
    rows = walk([0, 20, 40, 90], "pqrp")
    if sense == "less":
        rows = [(*row[:3], -row[3], row[4]) for row in rows]
    book = make_book(rows, instruments=[instrument("L", 0.05, higher_reads=sense)])
    levels = reduce(book)
    setup = levels.setups["A"]
    assert setup.drift == pytest.approx(0.12, abs=1e-9)
    assert setup.constant == pytest.approx(1.5, abs=1e-9)
    assert [levels.stations[s].level for s in "pqr"] == pytest.approx([0, 0.25, 0.5], abs=1e-9)
    # the closing check alone tells the drift: √2 · 0.05 in 1.5 h
    assert setup.drift_sd == pytest.approx(2**0.5 * 0.05 / 1.5)
    assert levels.closures[0].misclosure == pytest.approx(0.18, abs=1e-9)
    assert levels.fit.dof == 0


@pytest.mark.parametrize(
    ("minutes", "stations", "known"),
    [
        pytest.param([0, 30, 60], "pqp", True, id="start and end"),
        pytest.param([0, 30, 60], "pqr", False, id="nothing read again"),
        pytest.param([None, None, None], "pqp", False, id="no times"),
        pytest.param([0, 30, 60, 120], "pqpr", True, id="half of the time"),
        pytest.param([0, 30, 59, 120], "pqpr", False, id="less than half of the time"),
        pytest.param([0, 61, 90, 120], "ppqr", True, id="more than half of the time"),
        pytest.param([0, 60, 90, 120], "qppr", False, id="a repeat over a short time"),
        pytest.param([0, 0, 0], "pqp", False, id="all at one time"),
        pytest.param([0, None, 60], "pqp", True, id="a time missing between"),
        pytest.param([0, 40, None], "pqp", False, id="the repeat has no time"),
        pytest.param([0, None, 40, 60], "pqpp", True, id="a repeat without time, and one with"),
        pytest.param([None, 10, 60], "pqq", False, id="the first has no time"),
        pytest.param([0, 60, None], "ppq", False, id="the last has no time"),
        pytest.param([0, 60, None, 50], "pqrp", False, id="times run backwards round a gap"),
        pytest.param([60, 30, 0], "pqp", True, id="written down backwards, all timed"),
    ],
)
def test_when_drift_is_an_unknown(minutes: list, stations: str, known: bool) -> None:
    """A drift needs a repeat, with times, over at least half of the setup's time."""
    found = drift_of(walk(minutes, stations))
    if known:
        assert found == pytest.approx(0.12, abs=1e-8)
    else:
        assert found is None


def test_the_same_station_on_another_finish_is_no_repeat() -> None:
    """A repeat on another finish tells the finish, not the drift."""
    rows = walk([0, 30, 60], "pqp")
    rows[2] = (*rows[2][:2], "oak", *rows[2][3:])
    assert drift_of(rows) is None


def test_struck_readings_tell_no_drift() -> None:
    """With the closing check struck there is no drift, and time starts at a valid reading."""
    book = make_book(walk([0, 30, 60, 90], "pqqp"))
    struck = [r.model_dump(exclude_none=True) | {"struck": r.id == "r4"} for r in book.readings]
    levels = reduce(changed(book, readings=struck))
    assert levels.setups["A"].drift == pytest.approx(0.12, abs=1e-9)  # q, over half the time
    struck = [r.model_dump(exclude_none=True) | {"struck": r.id == "r1"} for r in book.readings]
    levels = reduce(changed(book, readings=struck))
    assert levels.setups["A"].constant == pytest.approx(1.5 + 0.12 * 0.5, abs=1e-9)


def test_each_setup_has_its_own_clock() -> None:
    """Two setups drift apart, each from its own first reading."""
    second = [("B", *row[1:]) for row in walk([120, 150, 240], "pqp", drift=-0.3)]
    second = [(*row[:3], row[3] + 0.3 * 2, row[4]) for row in second]
    levels = reduce(make_book(walk([0, 30, 60], "prp") + second))
    assert levels.setups["A"].drift == pytest.approx(0.12, abs=1e-9)
    assert levels.setups["B"].drift == pytest.approx(-0.3, abs=1e-9)
    assert levels.setups["B"].constant == pytest.approx(1.5, abs=1e-9)


def test_hours() -> None:
    """Hours count from the earliest; a gap is filled by its place in the order."""
    assert setup_hours([at(0), at(90), at(30)], DAY) == pytest.approx([0, 1.5, 0.5])
    assert setup_hours([at(30), None, None, at(120)], DAY) == pytest.approx([0, 0.5, 1, 1.5])
    assert setup_hours([at(30), None, at(30), at(90)], DAY) == pytest.approx([0, 0, 0, 1])
    assert setup_hours([], DAY) is None


def test_times_as_they_are_written() -> None:
    """A time of day belongs to the visit; offsets from UTC count; nonsense is no time."""
    assert moment("09:30", DAY) == moment("2026-03-02T09:30:00", "1999-01-01")
    assert setup_hours(["09:00", "2026-03-02T10:30"], DAY) == pytest.approx([0, 1.5])
    assert setup_hours(["2026-03-02T09:00:00-06:00", "2026-03-02T16:00:00Z"], DAY) == pytest.approx(
        [0, 1]
    )
    assert setup_hours(["2026-03-02T09:00:00-06:00", "2026-03-02T16:00:00"], DAY) is None
    assert moment("after lunch", DAY) is None
    assert moment("09:30", "some day") is None
