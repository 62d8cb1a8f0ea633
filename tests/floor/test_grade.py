"""The fall of the ground outside, by hand and by laws."""

import pytest
from known_garages import garage_book, lattice

from levelbook.book.model import Grade
from levelbook.floor.grade import grade_falls


def book_with(*grades, **instrument):
    """Return a book of a garage with these pairs; its instrument's keys may be replaced."""
    book = garage_book(lattice(20.0, 20.0, 3, 3), ["0"] * 9)
    sense = book.instruments[0].model_copy(update=instrument)
    return book.model_copy(update={"grades": grades, "instruments": (sense,)})


def pair(near="-4.0", far="-10.0", **more):
    """Return a pair straight out of the lower wall, 10 ft long."""
    where = {} if "distance" in more else {"out": (10.0, -10.0)}
    return Grade(
        **{"id": "N", "setup": "G", "at": (10.0, 0.0), "near": near, "far": far, **where, **more}
    )


def test_six_inches_in_ten_feet_are_five_percent():
    """The figure of the code (IRC R401.3) in both its wordings."""
    (fall,) = grade_falls(book_with(pair()))
    assert fall.fall == pytest.approx(6.0)
    assert fall.slope == pytest.approx(0.05)
    assert fall.distance == pytest.approx(10.0)
    assert not fall.negative


def test_the_sd_is_that_of_a_difference_of_two_readings():
    """Instrument 0.05 in with steps of 0.1 in, ground rough by 0.25 in: by hand 0.362859 in."""
    (fall,) = grade_falls(book_with(pair()))
    assert fall.sd == pytest.approx((2 * (0.05**2 + 0.1**2 / 12 + 0.25**2)) ** 0.5)
    assert fall.sd == pytest.approx(0.362859, abs=1e-6)
    assert fall.slope_sd == pytest.approx(fall.sd / 120)
    (paved,) = grade_falls(book_with(pair(surface="paved")))
    assert paved.sd < fall.sd / 3


def test_a_rod_reads_the_other_way():
    """On a rod the lower place reads more."""
    (fall,) = grade_falls(book_with(pair("48", "54"), higher_reads="less"))
    assert fall.fall == pytest.approx(6.0)


@pytest.mark.parametrize(("far", "negative"), [("-3.0", True), ("-3.9", False), ("-10", False)])
def test_ground_to_the_wall_is_named_only_when_sure(far, negative):
    """Negative means that the whole 95 % interval runs to the wall."""
    (fall,) = grade_falls(book_with(pair(far=far)))
    assert fall.negative is negative


def test_struck_pairs_take_no_part():
    """A struck pair is kept in the book and left out here."""
    assert grade_falls(book_with(pair(struck=True))) == ()


@pytest.mark.parametrize(
    ("at", "out"),
    [((10.0, 0.0), (10.0, -8.0)), ((20.0, 5.0), (28.0, 5.0)), ((0.0, 10.0), (-8.0, 10.0))],
)
def test_a_distance_alone_leads_straight_out(at, out):
    """Without a place away from the wall, the arrow is square to the wall."""
    (fall,) = grade_falls(book_with(pair(at=at, distance=8.0)))
    assert fall.out == pytest.approx(out, abs=1e-6)
    assert fall.distance == 8.0
    assert fall.slope == pytest.approx(6 / 96)
