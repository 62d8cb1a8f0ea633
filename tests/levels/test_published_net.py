"""A published level net, carried by a level book: every line is a setup with two readings.

Ghilani & Wolf, *Adjustment Computations*, chapter on the adjustment of level nets; figures
from memory and then reproduced by computation, more digits computed. Feet in print; the
book's unit does not matter here.
"""

from collections.abc import Mapping
from math import sqrt

import pytest
from level_books import instrument, make_book

from levelbook.levels import Levels, reduce

# line: from, to, difference, length in miles
LINES = {
    "XA": ("X", "A", "5.10", 4),
    "AY": ("A", "Y", "2.34", 3),
    "YC": ("Y", "C", "-1.25", 2),
    "CX": ("C", "X", "-6.13", 3),
    "AB": ("A", "B", "-0.68", 2),
    "YB": ("Y", "B", "-3.00", 2),
    "BC": ("B", "C", "1.70", 2),
}
BENCH = {"X": 100.00, "Y": 107.50}


def net(variance: Mapping[str, float]) -> Levels:
    """Return the adjusted net; ``variance`` is that of each line's difference.

    The second bench mark is held by a line of its own read a million times more precisely.
    """
    tools = [instrument(line, sqrt(variance[line] / 2)) for line in LINES]
    rows = [("hold", "X", "turf", "0"), ("hold", "Y", "turf", "7.50")]
    for line, (start, end, difference, _) in LINES.items():
        rows += [(line, start, "turf", "0"), (line, end, "turf", difference)]
    setups = {line: line for line in LINES} | {"hold": "exact"}
    exact = instrument("exact", 1e-6)
    return reduce(make_book(rows, instruments=[exact, *tools], setups=setups))


@pytest.fixture(scope="module")
def weighted() -> Levels:
    """Return the net with weights 12/length."""
    return net({line: parts[3] / 12 for line, parts in LINES.items()})


@pytest.fixture(scope="module")
def equal() -> Levels:
    """Return the net with equal weights of 1."""
    return net(dict.fromkeys(LINES, 1.0))


def line_ids(line: str) -> tuple[str, str]:
    """Return the reading ids of a line's start and end (``hold`` has the first two)."""
    i = 3 + 2 * list(LINES).index(line)
    return f"r{i}", f"r{i + 1}"


@pytest.mark.parametrize(("mark", "height"), [("A", 105.141), ("B", 104.483), ("C", 106.188)])
def test_equal_weights(equal: Levels, mark: str, height: float) -> None:
    """Heights with equal weights, as printed."""
    assert BENCH["X"] + equal.stations[mark].level == pytest.approx(height, abs=5e-4)


def test_reference_sd_of_equal_weights(equal: Levels) -> None:
    """Reference standard deviation 0.050 with equal weights, as printed."""
    assert sqrt(equal.fit.variance_factor) == pytest.approx(0.050, abs=5e-4)


@pytest.mark.parametrize(
    ("mark", "printed", "height", "sd"),
    [
        ("A", 105.150, 105.1504, 0.0328),
        ("B", 104.489, 104.4892, 0.0298),
        ("C", 106.197, 106.1972, 0.0290),
    ],
)
def test_weighted(weighted: Levels, mark: str, printed: float, height: float, sd: float) -> None:
    """Heights with weights 12/length, and standard deviations scaled by the reference sd."""
    station = weighted.stations[mark]
    assert BENCH["X"] + station.level == pytest.approx(printed, abs=5e-4)
    assert BENCH["X"] + station.level == pytest.approx(height, abs=5e-5)
    assert sqrt(weighted.fit.variance_factor) * station.sd == pytest.approx(sd, abs=5e-5)


def test_held_mark_and_fit(weighted: Levels) -> None:
    """The second bench mark stays, four lines are to spare, reference sd 0.107 as printed."""
    assert BENCH["X"] + weighted.stations["Y"].level == pytest.approx(BENCH["Y"], abs=1e-9)
    assert weighted.fit.dof == 4
    assert sqrt(weighted.fit.variance_factor) == pytest.approx(0.107, abs=5e-4)


@pytest.mark.parametrize(
    ("line", "residual", "redundancy"),
    [
        ("XA", 0.0504, 0.72),
        ("AY", 0.0096, 0.6267),
        ("YC", -0.0528, 0.56),
        ("CX", -0.0672, 0.7067),
        ("AB", 0.0188, 0.4044),
        ("YB", -0.0108, 0.5378),
        ("BC", 0.0080, 0.4444),
    ],
)
def test_lines(weighted: Levels, line: str, residual: float, redundancy: float) -> None:
    """Residuals (adjusted minus observed there) and redundancies, halved between two readings."""
    start, end = (weighted.residuals[i] for i in line_ids(line))
    assert -(end.residual - start.residual) == pytest.approx(residual, abs=5e-5)
    assert -end.residual == pytest.approx(residual / 2, abs=5e-5)
    assert start.redundancy + end.redundancy == pytest.approx(redundancy, abs=5e-5)
    assert start.redundancy == pytest.approx(end.redundancy)
    sd = sqrt(LINES[line][3] / 12)
    assert end.w == pytest.approx(-residual / sd / sqrt(redundancy), abs=2e-3)


def test_redundancies_add_up(weighted: Levels) -> None:
    """The redundancies of all readings add up to the degrees of freedom."""
    assert sum(r.redundancy for r in weighted.residuals.values()) == pytest.approx(4.0)
