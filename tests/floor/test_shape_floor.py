"""The shape of a whole visit: every area, every section, and the laws that hold for all."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from known_floors import book_of, lattice, moved
from numpy.testing import assert_allclose

from levelbook.book import read_book
from levelbook.book.model import Area, Section
from levelbook.floor import AreaShape, Floor, TooFew, live_floor, shape_floor
from levelbook.floor.coverage import next_places
from levelbook.floor.footprint import Sampled, footprint
from levelbook.floor.profiles import profile, profiles
from levelbook.floor.simulate import simulate_house
from levelbook.levels import reduce


def shape_of(book, **options) -> Floor:
    return shape_floor(book, reduce(book), **options)


@pytest.fixture(scope="module")
def house(house_a):
    return read_book(house_a)


@pytest.fixture(scope="module")
def floor(house):
    return shape_of(house)


def test_every_area_of_the_sample_has_its_shape(house, floor):
    """House and garage each have a surface of their own group, and all figures an sd."""
    assert set(floor.areas) == {"house", "garage"}
    for name, area in floor.areas.items():
        assert isinstance(area, AreaShape)
        assert area.area == name
        assert area.group == area.surface.group
        assert {s.area for s in house.stations if s.id in area.surface.stations} == {name}
        sds = [area.range.sd, area.tilt.sd, area.steepest.sd, area.deflection.sd]
        assert all(0 < sd < 1 for sd in sds)
        assert len(area.walls) == 4
        assert [w.source for w in area.walls] == [f"wall {i}" for i in range(1, 5)]
        assert area.deflection.source == "worst chord"
        assert area.grid.mean.shape == area.grid.inside.shape
        assert area.coverage.next
    assert floor.areas["house"].group != floor.areas["garage"].group
    assert floor.suspects == ()


def test_what_a_page_shows_after_each_reading_is_the_whole_shape(house, floor):
    """All that is told at once equals the whole shape; profiles of walls and errors wait."""
    live = live_floor(house, reduce(house))
    assert live.suspects == floor.suspects
    assert not live.sections
    for name, whole in floor.areas.items():
        soon = live.areas[name]
        assert (soon.range, soon.tilt, soon.steepest) == (whole.range, whole.tilt, whole.steepest)
        assert (soon.bend, soon.coverage, soon.group) == (whole.bend, whole.coverage, whole.group)
        assert soon.walls == ()
        assert soon.deflection.line == whole.deflection.line
        assert soon.deflection.deflection == pytest.approx(whole.deflection.deflection, rel=1e-9)
        assert soon.deflection.sd == pytest.approx(whole.deflection.sd, rel=1e-6)
        assert_allclose(soon.grid.mean, whole.grid.mean, atol=1e-10)
        assert np.isnan(soon.grid.sd).all()
        assert (soon.grid.inside == whole.grid.inside).all()


def test_many_lines_at_once_have_the_profiles_of_each(floor):
    """Profiles asked for together are those asked for one by one, in their order."""
    surface = floor.areas["house"].surface
    lines = {"wall 1": ((0.0, 0.0), (40.0, 0.0)), "section a": ((3.0, 27.0), (37.0, 2.0))}
    together = profiles(surface, lines, 1 / 12)
    assert [p.source for p in together] == list(lines)
    assert profiles(surface, {}, 1 / 12) == ()
    for found in together:
        alone = profile(surface, found.line, 1 / 12, found.source)
        assert found.line == alone.line == lines[found.source]
        assert (found.length, found.at, found.shape) == (alone.length, alone.at, alone.shape)
        assert found.deflection == pytest.approx(alone.deflection, rel=1e-9)
        assert found.sd == pytest.approx(alone.sd, rel=1e-6)


def test_the_sample_reads_as_it_was_made(house, floor):
    """By hand from the readings: 0.85 in from the middle to station 7, a dome, a falling garage."""
    shape = floor.areas["house"]
    assert shape.range.value == pytest.approx(0.85)
    assert (shape.range.high, shape.range.low) == ("c", "7")
    assert shape.bend.word == "dome"
    garage = floor.areas["garage"]
    assert garage.range.value == pytest.approx(1.0)
    assert garage.tilt.direction == pytest.approx(0.0, abs=10.0)  # to the door, up the sheet
    assert garage.tilt.slope == pytest.approx(0.9 / (20 * 12), rel=0.15)


def test_the_worst_chord_is_no_better_than_any_wall_as_long(floor):
    """Walls of at least the shortest chord are chords too."""
    for area in floor.areas.values():
        walls = [w for w in area.walls if w.length >= 20 and w.ratio is not None]
        assert all(area.deflection.ratio <= 1.01 * w.ratio for w in walls)


def test_a_small_area_lets_its_chord_span_its_shorter_side():
    """A porch 8 ft deep has a worst chord although nothing in it is 20 ft long."""
    outline = ((0, 0), (15, 0), (15, 8), (0, 8))
    xy = lattice(outline, 4.0)
    values = [f"{0.3 - 0.01 * (x - 7) ** 2:.1f}" for x in xy[:, 0]]
    area = shape_of(book_of(xy, values, outline=outline)).areas["a"]
    assert 8.0 - 1e-6 <= area.deflection.length <= math.hypot(15, 8)


def test_an_area_with_too_few_readings_says_so(house):
    """Two stations of a porch: how many there are and how many are needed."""
    porch = Area(id="porch", kind="porch", outline=((0, 30), (10, 30), (10, 40), (0, 40)))
    book = house.model_copy(update={"areas": (*house.areas, porch)})
    found = shape_of(book).areas["porch"]
    assert isinstance(found, TooFew)
    assert found.stations == 0
    assert found.needs >= 3


def test_least_distance_of_the_steepest_slope_may_be_given(house):
    """10 ft unless given; farther apart is flatter."""
    near, far = (shape_of(house, min_apart=d).areas["house"].steepest for d in (None, 25.0))
    assert near.min_apart == 10.0
    assert far.min_apart == 25.0
    assert far.distance >= 25.0
    assert far.slope < near.slope
    assert shape_of(house, min_apart=500.0).areas["house"].steepest is None


def test_sections_belong_to_the_area_that_holds_most_of_them(house):
    """A line across both areas is cut to the larger piece; one off all floors is left out."""
    lines = {"both": ((20.0, 10.0), (58.0, 10.0)), "off": ((0.0, -9.0), (30.0, -9.0))}
    model = type(house.sections[0])
    book = house.model_copy(
        update={"sections": tuple(model(id=i, line=line) for i, line in lines.items())}
    )
    found = shape_of(book).sections
    assert set(found) == {"both"}
    assert found["both"].source == "section both"
    assert found["both"].line[0] == pytest.approx((39.0, 10.0))
    assert found["both"].line[1] == pytest.approx((58.0, 10.0))


def test_better_readings_make_a_surer_shape(house):
    """A finer instrument narrows tilt and deflection of the same floor."""
    sharp = house.model_copy(
        update={
            "instruments": tuple(
                i.model_copy(update={"sd": 0.01, "resolution": 0.01}) for i in house.instruments
            )
        }
    )
    blunt_shape, sharp_shape = (shape_of(b).areas["garage"] for b in (house, sharp))
    assert sharp_shape.tilt.sd < blunt_shape.tilt.sd
    assert sharp_shape.walls[0].sd < blunt_shape.walls[0].sd


def simulated(**changes):
    return simulate_house(np.random.default_rng(21), kind="dome", stations=40, **changes).book


def figures(shape):
    """Return what must not depend on how the visit was written down."""
    area = shape.areas["house"]
    return [
        area.tilt.slope,
        area.tilt.sd,
        area.range.value,
        area.range.sd,
        area.steepest.slope,
        area.steepest.sd,
        abs(area.deflection.deflection),
        area.coverage.largest_gap,
    ]


def test_the_zero_does_not_matter():
    """Another station held at 0 moves no figure of the shape."""
    book = simulated()
    other = next(r for r in book.readings if r.station == "p9")
    reference = book.reference.model_copy(update={"station": "p9", "finish": other.finish})
    there = book.model_copy(update={"reference": reference})
    assert_allclose(figures(shape_of(there)), figures(shape_of(book)), rtol=2e-3)


def test_the_order_of_writing_does_not_matter():
    """Stations and readings written down backwards give the same figures."""
    book = simulated()
    there = book.model_copy(
        update={"stations": book.stations[::-1], "readings": book.readings[::-1]}
    )
    assert_allclose(figures(shape_of(there)), figures(shape_of(book)), rtol=2e-3)


def test_a_staff_gives_the_same_floor():
    """An instrument of the other sense with all signs turned is the same visit."""
    book = simulated()
    there = book.model_copy(
        update={
            "instruments": tuple(
                i.model_copy(update={"higher_reads": "less"}) for i in book.instruments
            ),
            "readings": tuple(
                r.model_copy(update={"value": f"{-float(r.value) + 0.0:.1f}"})
                for r in book.readings
            ),
        }
    )
    assert_allclose(figures(shape_of(there)), figures(shape_of(book)), rtol=1e-9)


@given(st.floats(0, 360), st.floats(-300, 300))
@settings(max_examples=6)
def test_the_sheet_may_be_turned(angle, shift):
    """Plan turned and moved: the same figures, the same word, directions turned along."""
    book = simulated()
    outline = tuple(map(tuple, moved(book.areas[0].outline, angle, shift).tolist()))
    there = book.model_copy(
        update={
            "areas": (book.areas[0].model_copy(update={"outline": outline}),),
            "stations": tuple(
                s.model_copy(update={"at": tuple(moved([s.at], angle, shift)[0].tolist())})
                for s in book.stations
            ),
        }
    )
    still, turned = shape_of(book), shape_of(there)
    assert_allclose(figures(turned), figures(still), rtol=2e-3)
    assert turned.areas["house"].bend.word == still.areas["house"].bend.word
    difference = turned.areas["house"].tilt.direction - still.areas["house"].tilt.direction + angle
    assert (difference + 180) % 360 - 180 == pytest.approx(0.0, abs=0.5)


def test_millimetres_and_inches_tell_the_same_slopes():
    """Level units changed with the instrument: slopes and ratios stay, levels scale."""
    book = simulated()
    there = book.model_copy(
        update={
            "units": book.units.model_copy(update={"level": "mm"}),
            "instruments": tuple(
                i.model_copy(update={"sd": 25.4 * i.sd, "resolution": 25.4 * i.resolution})
                for i in book.instruments
            ),
            "readings": tuple(
                r.model_copy(update={"value": f"{25.4 * float(r.value):.4f}"})
                for r in book.readings
            ),
        }
    )
    want, found = (shape_of(b).areas["house"] for b in (book, there))
    assert found.tilt.slope == pytest.approx(want.tilt.slope, rel=1e-4)
    assert found.steepest.slope == pytest.approx(want.steepest.slope, rel=1e-4)
    assert found.deflection.ratio == pytest.approx(want.deflection.ratio, rel=1e-2)
    assert found.range.value == pytest.approx(25.4 * want.range.value, rel=1e-6)
    assert found.bend.word == want.bend.word


def test_section_deflection_covers_on_simulated_houses():
    """Fitted from readings alone, 95 % intervals of a drawn section cover its true deflection."""
    covered = []
    for seed in range(40):
        rng = np.random.default_rng([9, seed])
        house = simulate_house(rng, kind="process", stations=45, unevenness=0.05)
        low, high = np.min(house.book.areas[0].outline, 0), np.max(house.book.areas[0].outline, 0)
        line = (tuple((low + 1).tolist()), tuple((high - 1).tolist()))
        book = house.book.model_copy(update={"sections": (Section(id="d", line=line),)})
        found = shape_of(book).sections["d"]
        places = np.array(line[0]) + np.linspace(0, 1, 41)[:, None] * np.subtract(*line[::-1])
        truth, _ = house.truth.predict(places)
        offset = truth - np.linspace(truth[0], truth[-1], 41)
        true = offset[np.argmax(np.abs(offset))]
        covered.append(abs(found.deflection - true) <= 1.96 * found.sd)
    assert np.mean(covered) >= 0.875  # 35 of 40: below it by chance once in 20 at 95 %


def test_the_next_places_count_with_a_usual_reading(house, floor):
    """The next reading has the median error of those at hand, and the unevenness."""
    area = floor.areas["house"]
    surface = area.surface
    cells = footprint(house.areas[0]).cells(300)
    error = np.median(np.diag(surface.noise)) + surface.hyper.unevenness**2
    want = next_places(Sampled(cells, *surface.joint(cells.xy)), float(error))
    assert [p.at for p in area.coverage.next] == [p.at for p in want]
    assert [p.gain for p in area.coverage.next] == pytest.approx([p.gain for p in want], rel=1e-9)
