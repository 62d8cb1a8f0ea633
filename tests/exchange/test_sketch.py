"""A grid of numbers typed from a sketch: cells are places."""

import pytest
from importing import imported

ALWAYS = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "layout": "grid",
          "unit.plan": "ft", "unit.level": "in"}  # fmt: skip
GRID = "0.1\t0.2\t0.3\n0.0\t\t-0.2\n0.4\t-0.5\t0.6\n"


def levels(plan) -> dict[tuple[float, float], str]:
    """Return the readings by place."""
    at = {station.id: station.at for station in plan.book.stations}
    return {at[reading.station]: reading.value for reading in plan.book.readings}


def test_cells_are_places() -> None:
    """The first row is the top of the sheet; each station stands in the middle of its square."""
    plan, asked = imported(GRID, ALWAYS | {"square": "4"})
    assert {"layout", "square", "unit.plan", "unit.level"} <= asked
    assert levels(plan) == {
        (2, 10): "0.1", (6, 10): "0.2", (10, 10): "0.3",
        (2, 6): "0.0", (10, 6): "-0.2",
        (2, 2): "0.4", (6, 2): "-0.5", (10, 2): "0.6",
    }  # fmt: skip
    assert set(plan.book.areas[0].outline) == {(0, 0), (12, 0), (12, 12), (0, 12)}
    assert any("edge of the sketch" in told for told in plan.assumed)


def test_edges_may_be_places() -> None:
    """Numbers along the top and the left, their corner empty, are asked about."""
    grid = ",0,5,12\n20,0.2,0.3,0.1\n8,-0.1,,0.4\n0,0,0.1,0.2\n"
    answers = ALWAYS | {"edges": "places", "outline": "rectangle"}
    plan, asked = imported(grid, answers)
    assert "edges" in asked
    assert levels(plan) == {
        (0, 20): "0.2", (5, 20): "0.3", (12, 20): "0.1", (0, 8): "-0.1", (12, 8): "0.4",
        (0, 0): "0", (5, 0): "0.1", (12, 0): "0.2",
    }  # fmt: skip


def test_words_in_a_sketch_are_told() -> None:
    """A cell that is no number is left, with the cell's name in the file."""
    plan, _ = imported(
        "\n\t0.1\t0.2\t0.3\n\t0.0\tbed\t-0.2\n\t0.4\t0.5\t0.6\n", ALWAYS | {"square": "2"}
    )
    (left,) = plan.left
    assert "C3" in left.place
    assert left.what == "bed"
    assert len(plan.book.readings) == 8


@pytest.mark.parametrize("answer", ["finish", "note"])
def test_marks_in_a_sketch(answer: str) -> None:
    """Letters that come back beside numbers are finishes or remarks, as answered."""
    grid = "0.1c\t0.2c\t0.3\n0.0\t0.1\t-0.2t\n0.4t\t0.5c\t0.6\n"
    plan, asked = imported(grid, ALWAYS | {"square": "2", "marks": answer})
    assert "marks" in asked
    names = {finish.id for finish in plan.book.finishes}
    assert names == ({"c", "t", "floor"} if answer == "finish" else {"floor"})
    assert plan.book.readings[0].note == "c"


def test_metric_sketch_with_decimal_commas() -> None:
    """Millimetres with a comma, squares of half a metre."""
    answers = ALWAYS | {"unit.plan": "m", "unit.level": "mm", "square": "0.5"}
    plan, _ = imported("1,5;2,0;-3,5\n0,0;1,0;2,5\n1,0;1,0;1,0\n", answers)
    assert levels(plan)[0.25, 1.25] == "1.5"
    assert (plan.book.units.level, plan.book.units.plan) == ("mm", "m")
