"""The ground outside on the plan: arrows downhill, ground to the wall told in more than colour."""

import json

import pytest

from levelbook.book import read_book
from levelbook.demo import house
from levelbook.drawing import plan
from levelbook.drawing.records import Line, Polygon, Text, flatten
from levelbook.findings import assess
from levelbook.findings.model import Assessment


def told(*grades: dict[str, object]) -> Assessment:
    """Return the demo's assessment with these pairs outside its left wall."""
    document = json.loads(house())
    place = {"setup": document["setups"][0]["id"], "at": [0, 20], "out": [-10, 20]}
    document["grades"] = [{"id": f"G{k}", **place, **each} for k, each in enumerate(grades)]
    return assess(read_book(json.dumps(document)))


@pytest.fixture(scope="module")
def falling() -> Assessment:
    """Return a house whose ground falls away."""
    return told({"near": "0", "far": "-6"})


@pytest.fixture(scope="module")
def rising() -> Assessment:
    """Return a house whose ground falls toward it."""
    return told({"near": "0", "far": "3"})


def shapes(assessment, **more):
    """Return the shapes of the plan."""
    return list(flatten(plan(assessment, width_mm=178, height_mm=208, **more).items))


def bars(items):
    """Return the bars across arrows that stand on the plan or in its legend."""
    return [i for i in items if isinstance(i, Line) and i.role == "grade-bar"]


def said(items):
    """Return all texts of a plan."""
    return " ".join(i.text for i in items if isinstance(i, Text))


def test_ground_that_falls_away(falling):
    """Its slope stands beside it with ±, and no bar crosses its arrow."""
    items = shapes(falling)
    (name,) = (i.text for i in items if isinstance(i, Text) and i.role == "grade")
    assert name.startswith("G0: 5.0")
    assert "±" in name
    assert "to the house" not in name
    assert not bars(items)
    assert "ground outside" in said(items)


def test_ground_that_runs_to_the_house(rising):
    """A bar, words and another colour tell it, and its arrow points to the wall."""
    items = shapes(rising)
    (name,) = (i.text for i in items if isinstance(i, Text) and i.role == "grade")
    assert "to the house" in name
    assert len(bars(items)) == 2  # on the plan and in the legend
    assert "toward the house" in said(items)
    heads = [i for i in items if isinstance(i, Polygon) and i.role == "arrow"]
    (x, _), *base = max((h.rings[0] for h in heads), key=lambda ring: ring[0][0] < 60)
    assert all(x > corner[0] for corner in base)


def test_ground_too_near_level_has_no_head():
    """A fall within its error is a dashed line with a question, and no arrow."""
    items = shapes(told({"near": "0", "far": "0.2"}))
    (name,) = (i.text for i in items if isinstance(i, Text) and i.role == "grade")
    assert name.endswith("(level?)")
    assert [i for i in items if isinstance(i, Line) and i.role == "grade-unsure"]
    assert not bars(items)
    assert "falls this way" not in said(items)
    assert "too near level" in said(items)


def test_other_drawings_leave_the_ground_out(rising):
    """Only the plan of levels shows it; the brief plan leaves it out as well."""
    for more in ({"kind": "error"}, {"kind": "deflection"}, {"brief": True}):
        assert not bars(shapes(rising, **more))


def test_a_struck_pair_is_not_drawn():
    """What was struck is not on the plan."""
    assert not bars(shapes(told({"near": "0", "far": "3", "struck": True})))
