"""The garage floor against planes, bowls and simulated garages whose truth is known."""

import numpy as np
import pytest
import shapely
from known_garages import (
    DOOR,
    SQUARE,
    exact_book,
    fitted,
    hollow_garage,
    lattice,
    noisy_book,
    tilt_of,
)

from levelbook.book.model import Area
from levelbook.floor.basin import make_basin, run_water, shares
from levelbook.floor.doorway import Doorway, Fall, doorway, fall_to_door
from levelbook.floor.garage import NAMED, judge, study_garage, widened
from levelbook.floor.low_spots import LowSpot, find_low_spots


def study(book, points=()):
    """Return what is found out about the garage of a book."""
    surface = fitted(book)
    return study_garage(book, book.areas[0], surface, tilt_of(book, surface), points)


def test_the_resultant_of_two_slopes():
    """0.5 % to the east and 0.5 % to the south make 0.71 % at 45 degrees between them.

    Source: Concrete Construction, worked example on the slope of a slab; the figure is
    0.5·√2 = 0.7071.
    """
    found = study(exact_book(lambda p: 0.06 * (p[:, 1] - p[:, 0])))
    assert found.resultant == pytest.approx(0.005 * 2**0.5, abs=1e-6)
    assert round(100 * found.resultant, 2) == 0.71
    assert found.toward == pytest.approx(135.0, abs=1e-3)


@pytest.mark.parametrize("rise", [0.7, -0.2, 1.9])
def test_the_fall_of_a_plane_is_exact(rise):
    """On a plane the fall over 20 ft and its slope are those of the plane to 1e-6."""
    found = study(exact_book(lambda p: rise * p[:, 1] / 20 + 0.01 * p[:, 0]))
    assert found.fall.value == pytest.approx(rise, abs=1e-6)
    assert found.fall.depth == pytest.approx(20.0)
    assert found.slope == pytest.approx(rise / 240, abs=1e-6)


@pytest.mark.parametrize(
    ("rise", "share", "word"), [(1.0, 1.0, "drains"), (-1.0, 0.0, "negative slope")]
)
def test_a_plane_drains_wholly_or_not_at_all(rise, share, word):
    """A plane towards the door lets everything out there; away from it, nothing."""
    found = study(exact_book(lambda p: rise * p[:, 1] / 20))
    assert found.shares.door == pytest.approx(share, abs=1e-12)
    assert found.shares.wall == pytest.approx(1.0 - share, abs=1e-12)
    assert found.shares_sd.door < 1e-6
    assert found.verdict == word


def test_a_dish_is_found_with_its_depth_and_area():
    """A dish 0.8 in deep from its middle to the sill, 18 ft across, within 5 %.

    0.8 (r / 9)²: it spills at the sill, 9 ft from the middle, so the water's edge is the
    circle through there: area 81π.
    """
    middle = np.array([10.0, 9.0])
    book = exact_book(lambda p: 0.8 * ((p - middle) ** 2).sum(axis=1) / 81)
    (spot,) = study(book).low_spots
    assert spot.depth == pytest.approx(0.8, rel=0.05)
    assert spot.area == pytest.approx(81 * np.pi, rel=0.05)
    assert spot.at == pytest.approx(tuple(middle), abs=0.5)
    assert spot.lip[1] == 0.0
    assert spot.probability == 1.0


def test_a_bowl_in_a_sloping_floor_is_found_within_five_percent():
    """A bowl of 1 in under a slope has the depth and area that its true floor fills to."""

    def height(p):
        near = 1 - ((p - [10.0, 11.0]) ** 2).sum(axis=1) / 64
        return 0.3 * p[:, 1] / 20 - np.maximum(0.0, near) ** 2

    book = exact_book(height, 21, 21)
    basin = make_basin(doorway(book.areas[0]), [], 40_000)
    true = run_water(basin, height(basin.xy)[None, :], 0.0).depth[0]
    spot = study(book).low_spots[0]
    assert spot.depth == pytest.approx(true.max(), rel=0.05)
    assert spot.area == pytest.approx(basin.size[true > 0].sum(), rel=0.05)


def depth_and_truth(k):
    """Return the depth found in simulated garage ``k``, its sd, and the true depth."""
    hollow = hollow_garage(k)
    area = hollow.book.areas[0]
    loose = widened(fitted(hollow.book))
    basin = make_basin(doorway(area), [], 1_600)
    flow = run_water(basin, loose.predict(basin.xy)[0][None, :], 1 / 16)
    spots = find_low_spots((basin, flow), (basin, flow), loose)
    true = run_water(basin, hollow.height(basin.xy)[None, :], 0.0).depth.max()
    return (spots[0].depth, spots[0].depth_sd, true) if spots else (0.0, np.inf, true)


def test_intervals_of_depth_hold_the_truth():
    """On 200 simulated garages 92 to 98 % of 95 % intervals of depth hold the true depth."""
    value, sd, true = np.array([depth_and_truth(k) for k in range(200)]).T
    found = np.isfinite(sd)
    held = np.abs(true - value)[found] <= 1.96 * sd[found]
    assert found.mean() > 0.97
    assert 0.92 <= held.mean() <= 0.98


def level_garage(k):
    """Return the book of a level floor read with error, 9 to 25 stations."""
    rng = np.random.default_rng([5, k])
    xy = lattice(20.0, 20.0, *rng.integers(3, 6, 2))
    spread = {"sd": rng.uniform(0.02, 0.07), "unevenness": rng.uniform(0.0, 0.06)}
    return noisy_book(rng, lambda p: np.zeros(len(p)), xy, **spread)


def test_a_level_floor_is_never_said_to_drain():
    """200 level floors are flat or too close to call, none drains and hardly any is negative.

    Where the fall alone would allow the word, the whole floor is looked at.
    """
    words = []
    for k in range(200):
        book = level_garage(k)
        fall = fall_to_door(doorway(book.areas[0]), fitted(book))
        word = judge(fall, (), 1.0, False, 1.0)
        words.append(study(book).verdict if word == "drains" else word)
    assert "drains" not in words
    assert words.count("negative slope") <= 2
    assert set(words) <= {"flat", "too close to call", "negative slope"}


@pytest.mark.parametrize(("door", "word"), [(-0.7, "drains"), (0.2, "negative slope")])
def test_the_trades_own_examples(door, word):
    """0 at the house wall and −0.7 at the door 20 ft away passes; +0.2 is negative slope.

    Common practice, no source; nine readings to a tenth of an inch, three to a row.
    """
    xy = lattice(20.0, 20.0, 3, 3, inset=0.0)
    values = np.round(door * (1 - xy[:, 1] / 20), 1)
    book = noisy_book(np.random.default_rng(0), lambda p: values, xy, sd=0.0, unevenness=0.0)
    sensed = book.instruments[0].model_copy(update={"sd": 0.05})
    found = study(book.model_copy(update={"instruments": (sensed,)}))
    assert found.fall.value == pytest.approx(-door, abs=0.03)
    assert found.verdict == word


def test_water_from_the_heater_and_from_a_named_place():
    """On a floor that falls to the door both leave by it; falling away, both end at a wall."""
    marks = (("water-heater", (3.0, 18.0)),)
    for rise, end, sure in ((1.0, "door", 1.0), (-1.0, "wall", 0.0)):
        book = exact_book(lambda p, rise=rise: rise * p[:, 1] / 20, marks=marks)
        trails = study(book, [("freezer", (10.0, 10.0))]).trails
        assert [t.label for t in trails] == ["water-heater", "freezer"]
        assert [t.end for t in trails] == [end, end]
        assert [t.probability for t in trails] == [sure, sure]
        assert trails[0].path[0] == (3.0, 18.0)
        assert trails[0].path[-1][1] == pytest.approx(0.0 if rise > 0 else 19.8, abs=0.2)


def test_a_floor_drain_lets_water_out():
    """A floor that falls to a drain in its middle drains, though not to the door."""
    marks = (("drain", (10.0, 10.0)), ("water-heater", (10.0, 17.0)))
    found = study(exact_book(lambda p: 0.005 * ((p - 10.0) ** 2).sum(axis=1), marks=marks))
    assert found.shares.drain > 0.95
    assert found.verdict == "drains"
    assert found.trails[0].end == "drain"
    assert found.trails[0].probability_drain == 1.0
    assert not found.trails[0].reaches_door


@pytest.mark.parametrize(("angle", "shift"), [(90, (30.0, 5.0)), (37, (-4.0, 100.0))])
def test_turning_the_sheet_changes_nothing(angle, shift):
    """The fall, shares and low spots of a turned and moved garage are the same."""

    def height(p):
        return 0.3 * p[:, 1] / 20 - 0.6 * np.exp(-((p - [9.0, 12.0]) ** 2).sum(axis=1) / 30)

    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    matrix = np.array([[c, -s], [s, c]])

    def turned(points):
        return tuple(map(tuple, (np.asarray(points) @ matrix.T + shift).tolist()))

    book = exact_book(height)
    area = book.areas[0]
    moved = book.model_copy(
        update={
            "areas": (
                Area(id="g", kind="garage", outline=turned(SQUARE), vehicle_door=turned(DOOR)),
            ),
            "stations": tuple(
                one.model_copy(update={"at": turned([one.at])[0]}) for one in book.stations
            ),
        }
    )
    here, there = study(book), study(moved)
    assert area.vehicle_door == DOOR
    assert there.fall.value == pytest.approx(here.fall.value, abs=1e-6)
    assert there.shares.stands == pytest.approx(here.shares.stands, abs=0.01)
    assert there.low_spots[0].depth == pytest.approx(here.low_spots[0].depth, rel=0.01)
    assert there.low_spots[0].area == pytest.approx(here.low_spots[0].area, rel=0.02)


@pytest.mark.parametrize("angle", [17, 30, 37, 45, 110, 200])
def test_the_cells_of_a_turned_garage_are_the_same(angle):
    """The wall beside the door makes no cells of its own, however the garage lies."""
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    outline, door = (
        tuple(map(tuple, (np.asarray(points) @ [[c, s], [-s, c]] + (100.0, -50.0)).tolist()))
        for points in (SQUARE, DOOR)
    )
    here = make_basin(doorway(_garage_area(SQUARE, DOOR)), [], 256)
    there = make_basin(doorway(_garage_area(outline, door)), [], 256)
    assert there.way.local(there.xy) == pytest.approx(here.way.local(here.xy), abs=1e-9)
    assert there.size == pytest.approx(here.size)


def _garage_area(outline, door):
    return Area(id="g", kind="garage", outline=outline, vehicle_door=door)


def test_the_same_book_gives_the_same_figures():
    """Draws are seeded: studying a garage twice gives equal results."""
    book = level_garage(3)
    one, two = study(book), study(book)
    assert one.shares_sd == two.shares_sd
    assert one.low_spots == two.low_spots


def spot(depth, sd):
    return LowSpot((0, 0), (0, 0), 10.0, 1.0, depth, sd, 1.0, ())


@pytest.mark.parametrize(
    ("fall", "sd", "spots", "clear", "drained", "word"),
    [
        (0.7, 0.07, (), 1.0, False, "drains"),
        (0.7, 0.07, (), 0.94, False, "too close to call"),
        (0.5, 0.2, (), 1.0, False, "too close to call"),
        (0.7, 0.07, (spot(0.5, 0.1),), 0.4, False, "ponds"),
        (0.7, 0.07, (spot(0.5, 0.3),), 0.4, False, "too close to call"),
        (0.0, 0.05, (), 0.5, False, "flat"),
        (0.2, 0.02, (), 1.0, False, "flat"),
        (0.0, 0.2, (), 0.5, False, "too close to call"),
        (-0.5, 0.1, (spot(0.5, 0.1),), 0.0, False, "negative slope"),
        (-0.2, 0.1, (), 0.0, False, "too close to call"),
        (-0.5, 0.1, (), 0.99, True, "drains"),
        (-0.5, 0.1, (), 0.5, True, "negative slope"),
        (0.0, 0.05, (spot(0.5, 0.1),), 0.3, False, "ponds"),
    ],
)
def test_each_word_by_its_rule(fall, sd, spots, clear, drained, word):
    """The word for a floor follows the stated rules, the first that holds."""
    assert judge(Fall(fall, sd, 20.0), spots, clear, drained, 1.0) == word
    assert (
        judge(
            Fall(25.4 * fall, 25.4 * sd, 6.0),
            tuple(spot(25.4 * s.depth, 25.4 * s.depth_sd) for s in spots),
            clear,
            drained,
            25.4,
        )
        == word
    )


def test_a_floor_that_is_not_level_is_not_called_flat():
    """A side slope, a dome or a dish round a drain has no fall to the door and is not flat.

    Heights: 1 in across the floor; a dome of 0.8 in; a dish of 0.6 in, read at 16 places.
    """
    xy = lattice(20.0, 20.0, 4, 4)

    def word(height, marks=()):
        book = noisy_book(np.random.default_rng(1), height, xy, sd=0.05, unevenness=0.0)
        marked = exact_book(height, 4, 4, marks=marks).marks
        return study(book.model_copy(update={"marks": marked}))

    def out(p):
        return ((p - 10.0) ** 2).sum(axis=1) / 200

    assert abs(word(lambda p: p[:, 0] / 20).fall.value) < 0.15
    assert word(lambda p: p[:, 0] / 20).verdict != "flat"
    assert word(lambda p: -0.8 * out(p)).verdict != "flat"
    dish = word(lambda p: 0.6 * out(p), (("drain", (10.0, 10.0)),))
    assert dish.verdict in {"drains", "too close to call"}
    assert judge(Fall(0.0, 0.05, 20.0), (), 0.5, False, 1.0, level=False) == "too close to call"


def test_what_the_readings_leave_open_is_left_open():
    """On a level floor no way downhill is named, shares span wide, and a trail is not sure."""
    xy = lattice(20.0, 20.0, 4, 4)
    book = noisy_book(np.random.default_rng(3), lambda p: 0 * p[:, 0], xy, sd=0.05, unevenness=0.0)
    found = study(book, [("middle", (10.0, 10.0))])
    assert (np.abs(found.arrows[:, 2:]).sum(axis=1) > 0).mean() < 0.2
    assert found.shares_high.door - found.shares_low.door > 0.3
    assert not found.trails[0].sure
    steep = study(exact_book(lambda p: p[:, 1] / 20))
    assert np.abs(steep.arrows[:, 3] + 1).max() < 1e-6
    for part in ("door", "drain", "wall", "stands"):
        low, best, high = (
            getattr(s, part) for s in (found.shares_low, found.shares, found.shares_high)
        )
        assert low <= best <= high


def test_the_fall_is_named_at_99_percent():
    """The factor of the 99 % interval is the normal distribution's."""
    assert pytest.approx(2.5758, abs=1e-3) == NAMED


def test_an_odd_garage_is_no_trouble():
    """A door wider than its wall, an L-shaped floor and a door off the wall are all studied."""
    ell = ((0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (12.0, 10.0), (12.0, 20.0), (0.0, 20.0))
    for door in (
        ((0.0, 0.0), (20.0, 0.0)),
        ((1.0, -0.9), (19.0, -0.9)),
        ((20.0, 1.0), (20.0, 9.0)),
    ):
        xy = lattice(12.0, 20.0, 3, 4)
        book = exact_book(lambda p: 0.5 * p[:, 1] / 20, 3, 4)
        area = Area(id="g", kind="garage", outline=ell, vehicle_door=door)
        found = study(book.model_copy(update={"areas": (area,)}))
        total = found.shares.door + found.shares.drain + found.shares.wall + found.shares.stands
        assert total == pytest.approx(1.0)
        assert len(xy) == 12


@pytest.mark.parametrize(
    ("west", "lines", "depth"),
    [(0.0, 9, 20.0), (6.0, 4, 20.0), (30.0, 1, float(np.hypot(35.0, 10.0)))],
)
def test_a_door_is_measured_over_the_floor_that_faces_it(west, lines, depth):
    """A floor 20 ft deep before all of a 10 ft door, part of it, or none: then to its middle."""
    floor = shapely.box(west, 0.0, west + 20.0, 20.0)
    way = Doorway(floor, np.zeros(2), np.array([1.0, 0.0]), np.array([0.0, 1.0]), 10.0)
    reach = np.hypot(*(way.facing[:, 1] - way.facing[:, 0]).T)
    assert reach == pytest.approx(np.full(lines, depth))


def test_a_floor_finer_than_its_grid_has_a_place_still():
    """Two strips a tenth of an inch wide hold no middle of a cell: one place stands for them."""
    thin = 0.01
    outline = ((0, 0), (20, 0), (20, 20), (20 - thin, 20), (20 - thin, thin), (0, thin))
    area = Area(id="g", kind="garage", outline=outline, vehicle_door=DOOR)
    basin = make_basin(doorway(area), [], 100)
    assert (basin.size > 0).sum() == 1
    flow = run_water(basin, np.zeros((1, len(basin.size))), 0.0)
    assert shares(basin, flow).sum() == pytest.approx(1.0)
