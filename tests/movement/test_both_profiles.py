"""Both visits along one line: one zero, one unit, whatever the later visit was written in."""

import numpy as np
import pytest
from visit_pairs import metric, pair, visit, zeroed_elsewhere

from levelbook.book.model import Book, Section
from levelbook.movement import compare
from levelbook.movement.profiles import both_profiles

HOUSE, LATER, _, _ = pair(12, 1.2, stations=30)


def first(*sections: Section) -> Book:
    """Return the earlier book with some sections drawn."""
    return HOUSE.book.model_copy(update={"sections": sections})


def test_units_and_zero_of_the_later_visit_do_not_matter() -> None:
    """In millimetres and metres, or on another zero, the later line is the same."""
    book = first(Section(id="A", line=((1.0, 2.0), (30.0, 20.0))))
    (plain,) = both_profiles(compare(visit(book), visit(LATER)))
    for written in (metric(LATER), zeroed_elsewhere(LATER)):
        (other,) = both_profiles(compare(visit(book), visit(written)))
        assert np.allclose(other.later.level, plain.later.level, atol=1e-3)
        assert other.later.length == pytest.approx(plain.later.length)
        assert other.later.deflection == pytest.approx(plain.later.deflection, abs=1e-3)
    (mm,) = both_profiles(compare(visit(book), visit(metric(LATER))))
    assert np.allclose(mm.later.level_sd, plain.later.level_sd, rtol=0.02)
    assert np.allclose(mm.later.offset, plain.later.offset, atol=1e-3)
    assert mm.later.sd == pytest.approx(plain.later.sd, rel=0.05)


def test_nothing_moved_puts_the_lines_on_one_another() -> None:
    """The same book on two days: the two lines are one."""
    book = first(Section(id="A", line=((1.0, 2.0), (30.0, 20.0))))
    (both,) = both_profiles(compare(visit(book), visit(book)))
    assert np.allclose(both.later.level, both.earlier.level, atol=1e-9)
    assert both.later.sd == pytest.approx(both.earlier.sd)


def test_without_sections_the_worst_line_is_shown() -> None:
    """A book without sections shows the line along which the bend changed most."""
    found = compare(visit(first()), visit(LATER))
    (both,) = both_profiles(found)
    area = found.areas[found.main]
    assert area.deflection is not None
    assert both.name == ""
    assert both.earlier.line == area.deflection.line
