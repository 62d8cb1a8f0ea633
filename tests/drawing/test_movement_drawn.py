"""Drawings of movement: what stands out is filled with its figure, noise shows no figure."""

from functools import cache

import numpy as np
import pytest

from levelbook.book.model import Section
from levelbook.drawing import to_svg
from levelbook.drawing.backend import Collector, draw
from levelbook.drawing.both_profiles import both_profiles as draw_both
from levelbook.drawing.movement import movement_plan, small_multiples
from levelbook.drawing.records import Drawing, Text
from levelbook.floor.simulate import simulate_house
from levelbook.levels import reduce
from levelbook.movement import Comparison, Visit, compare
from levelbook.movement.profiles import both_profiles
from levelbook.movement.simulate import Drop, second_visit


@cache
def compared(size: float) -> Comparison:
    """Return a comparison whose corner fell by ``size``."""
    rng = np.random.default_rng(11)
    house = simulate_house(rng, kind="dome", stations=30)
    section = Section(id="A", line=((0.0, 1.0), (38.0, 1.0)))
    first = house.book.model_copy(update={"sections": (section,)})
    rise = Drop((0.0, 0.0), size, 16.0).height(np.array([s.at for s in first.stations]))
    moved = {s.id: float(r) for s, r in zip(first.stations, rise, strict=True)}
    later = second_visit(rng, house, moved, 0.05)
    return compare(Visit(first, reduce(first)), Visit(later, reduce(later)))


def collected(drawing: Drawing) -> Collector:
    """Return a drawing's shapes."""
    backend = Collector()
    draw(drawing.items, backend)
    return backend


def test_what_stands_out_is_filled_and_has_its_figure() -> None:
    """A filled triangle and a figure with ± for each significant station, rings for the rest."""
    found = compared(1.5)
    shapes = collected(movement_plan(found))
    named = [s for s in found.movements.stations.values() if s.significant]
    down = sum((s.moved or 0.0) < 0 for s in named)
    assert down
    legend = 1  # one sample of each mark
    assert len(shapes.by_role("fall")) == down + legend
    assert len(shapes.by_role("rise")) == len(named) - down + legend
    still = len(found.movements.stations) - len(named)
    assert len(shapes.by_role("still")) == still + legend
    figures = [t.text for t in shapes.texts() if t.role == "movement"]
    assert len(figures) == len(named)
    assert all("±" in each for each in figures)


def test_noise_shows_no_figure() -> None:
    """Where nothing stands out no figure is drawn, so that no noise looks like movement."""
    found = compared(0.0)
    assert not any(s.significant for s in found.movements.stations.values())
    assert not [t for t in collected(movement_plan(found)).texts() if t.role == "movement"]


@pytest.mark.parametrize("width", [95.0, 178.0])
def test_figures_do_not_touch(width: float) -> None:
    """No two texts of the plan overlap."""
    texts = collected(movement_plan(compared(1.5), width_mm=width)).texts()
    boxes = [(t.corners().min(axis=0), t.corners().max(axis=0)) for t in texts]
    for k, (low, high) in enumerate(boxes):
        for other_low, other_high in boxes[k + 1 :]:
            apart = (high <= other_low + 0.05) | (other_high <= low + 0.05)
            assert apart.any()


def test_small_plans_have_one_for_each_visit() -> None:
    """Each visit has its plan and its day, within the sheet."""
    drawing = small_multiples([compared(0.0), compared(1.5)], ["May 1", "June 1"])
    shapes = collected(drawing)
    assert [t.text for t in shapes.texts()] == ["May 1", "June 1"]
    assert len(shapes.by_role("ground")) == 2
    for text in shapes.texts():
        assert (text.corners() >= 0).all()
        assert (text.corners() <= [drawing.width, drawing.height]).all()


def test_both_visits_are_drawn_along_a_section_on_one_zero() -> None:
    """Two lines and two bands; away from the corner the visits lie on one another."""
    found = compared(1.5)
    (both,) = both_profiles(found)
    assert both.later.level[-1] == pytest.approx(both.earlier.level[-1], abs=0.3)
    assert both.later.level[0] < both.earlier.level[0] - 0.5
    shapes = collected(
        draw_both((both.earlier, both.later), ("one", "two"), found.earlier.book.units, name="A")
    )
    assert len(shapes.by_role("floor")) == 2
    assert len(shapes.by_role("interval")) == 2
    assert all(isinstance(t, Text) for t in shapes.texts())


def test_drawings_are_words_too() -> None:
    """The plan says in words which places stand out, and writes as SVG."""
    drawing = movement_plan(compared(1.5))
    named = [i for i, s in compared(1.5).movements.stations.items() if s.significant]
    assert all(i in drawing.description for i in named)
    assert to_svg(drawing, printable=True).startswith("<svg")
