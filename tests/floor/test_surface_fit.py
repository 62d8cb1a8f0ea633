"""From a book to the surface of an area: groups, limits, units and known truths."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from levelbook.errors import UsageError
from levelbook.floor.fit import MOST, NEEDS, fit_surface, floor_prior, spread_out
from levelbook.floor.model import TooFew
from levelbook.floor.simulate import simulate_house
from levelbook.floor.surface import Surface
from levelbook.levels.reduction import reduce


def house(seed=1, **options):
    return simulate_house(np.random.default_rng(seed), **options)


def fit(made, **options):
    return fit_surface(reduce(made.book), made.book, "house", **options)


def with_stations(book, keep=None, at=None, area=None):
    """Return a book with some stations left, moved or put into another area."""
    stations = tuple(
        s.model_copy(
            update={"at": (at or {}).get(s.id, s.at), "area": (area or {}).get(s.id, s.area)}
        )
        for s in book.stations
        if keep is None or s.id in keep
    )
    left = {s.id for s in stations}
    readings = tuple(r for r in book.readings if r.station in left)
    return book.model_copy(update={"stations": stations, "readings": readings})


def test_the_surface_follows_the_truth():
    """With many good readings the surface is near the true floor, inside and at the walls."""
    made = house(3, kind="dome", stations=150, sd=0.02, unevenness=0.02, resolution=0.01)
    surface = fit(made)
    assert isinstance(surface, Surface)
    rng = np.random.default_rng(1)
    at = rng.uniform(0, 1, (200, 2)) * np.max([s.at for s in made.book.stations], axis=0)
    mean, sd = surface.predict(at)
    true, _ = made.truth.predict(at)
    assert np.abs(mean - true).max() < 0.15
    assert np.sqrt(np.mean((mean - true) ** 2)) < 0.05
    assert (sd < 0.1).all()


def test_what_a_surface_is_made_of():
    """Stations in document order with their places, levels and covariance."""
    made = house(4, stations=40)
    levels = reduce(made.book)
    surface = fit_surface(levels, made.book, "house")
    assert surface.stations == tuple(s.id for s in made.book.stations)
    assert surface.group == levels.groups[0].id
    assert_allclose(surface.xy, [s.at for s in made.book.stations])
    assert_allclose(surface.noise, levels.covariance(surface.stations))
    assert_allclose(surface.level, [levels.stations[i].level for i in surface.stations])


def test_stations_can_be_left_out():
    """An excluded station takes no part."""
    made = house(4, stations=40)
    surface = fit(made, exclude={"p3", "p11"})
    assert len(surface.stations) == 38
    assert not {"p3", "p11"} & set(surface.stations)


def test_an_area_that_is_not_there_is_told():
    """A wrong area id is misuse and says so."""
    made = house(4, stations=30)
    with pytest.raises(UsageError, match="no area 'attic'"):
        fit_surface(reduce(made.book), made.book, "attic")


@pytest.mark.parametrize(("keep", "enough"), [(0, False), (4, False), (5, True)])
def test_too_few_stations_are_told(keep, enough):
    """Below the least number of places there is no surface but a count."""
    made = house(5, stations=12, finishes=1, setups=1)
    book = with_stations(made.book, keep={f"p{k + 1}" for k in range(keep)})
    answer = fit_surface(reduce(book), book, "house")
    assert isinstance(answer, Surface) is enough
    if not enough:
        assert answer == TooFew(stations=keep, needs=NEEDS)


def test_places_are_counted_once():
    """Stations on one spot are one place."""
    made = house(5, stations=12, finishes=1, setups=1)
    spot = {f"p{k}": (1.0, 1.0) for k in range(4, 13)}
    answer = fit_surface(reduce(made.book), with_stations(made.book, at=spot), "house")
    assert answer == TooFew(stations=4, needs=NEEDS)


@pytest.mark.parametrize("slope", [(1.0, 0.0), (0.0, 1.0), (0.6, -0.8)])
def test_stations_in_one_line_are_too_few(slope):
    """In line, nothing tells the tilt across: one place off the line is needed."""
    made = house(5, stations=12, finishes=1, setups=1)
    line = {f"p{k}": (20 + 0.7 * k * slope[0], 15 + 0.7 * k * slope[1]) for k in range(1, 13)}
    answer = fit_surface(reduce(made.book), with_stations(made.book, at=line), "house")
    assert answer == TooFew(stations=12, needs=13)


def test_the_largest_group_of_the_area_is_used():
    """Where readings leave two groups unconnected, the one with most stations serves."""
    made = house(6, stations=40, finishes=1, setups=2)
    tied = [r.station for r in made.book.readings if r.setup == "B"]
    in_a = {r.station for r in made.book.readings if r.setup == "A"}
    cut = tuple(r for r in made.book.readings if not (r.setup == "B" and r.station in in_a))
    book = made.book.model_copy(update={"readings": cut})
    levels = reduce(book)
    assert len(levels.groups) == 2
    surface = fit_surface(levels, book, "house")
    expected = max((in_a, set(tied) - in_a), key=len)
    assert set(surface.stations) == expected
    assert surface.group == levels.stations[surface.stations[0]].group


def test_only_the_areas_own_stations_are_used():
    """Nothing is interpolated from one area into another."""
    made = house(7, stations=40, finishes=1)
    porch = made.book.areas[0].model_copy(update={"id": "porch", "kind": "porch"})
    moved = {f"p{k}": "porch" for k in range(10, 21)}
    book = with_stations(made.book, area=moved).model_copy(
        update={"areas": (*made.book.areas, porch)}
    )
    levels = reduce(book)
    inner, outer = (fit_surface(levels, book, area) for area in ("house", "porch"))
    assert set(outer.stations) == set(moved)
    assert not set(inner.stations) & set(moved)
    assert len(inner.stations) == 29


def test_all_levels_zero_is_a_level_floor():
    """A house that reads 0.0 everywhere is level, with a small but honest sd."""
    made = house(8, kind="level", stations=30, finishes=1, setups=1, sd=0.0, unevenness=0.0)
    assert {r.value for r in made.book.readings} == {"0.0"}
    instrument = made.book.instruments[0].model_copy(update={"sd": 0.05})
    book = made.book.model_copy(update={"instruments": (instrument,)})
    surface = fit_surface(reduce(book), book, "house")
    mean, sd = surface.predict([(5.0, 5.0), (20.0, 10.0)])
    assert_allclose(mean, 0.0, atol=1e-12)
    assert ((sd > 0.005) & (sd < 0.1)).all()


def test_millimetres_and_metres_give_the_same_floor():
    """A book written in mm and m has the same surface, converted."""
    made = house(9, kind="process", stations=40, resolution=0.05)
    book = made.book
    factor = {"level": 25.4, "plan": 0.3048}

    def plan(points):
        return tuple((x * factor["plan"], y * factor["plan"]) for x, y in points)

    metric = book.model_copy(
        update={
            "units": book.units.model_copy(update={"level": "mm", "plan": "m"}),
            "instruments": tuple(
                i.model_copy(update={"sd": i.sd * 25.4, "resolution": i.resolution * 25.4})
                for i in book.instruments
            ),
            "areas": tuple(a.model_copy(update={"outline": plan(a.outline)}) for a in book.areas),
            "stations": tuple(s.model_copy(update={"at": plan([s.at])[0]}) for s in book.stations),
            "readings": tuple(
                r.model_copy(update={"value": f"{float(r.value) * 25.4:.6f}"})
                for r in book.readings
            ),
        }
    )
    at = np.array([(5.0, 5.0), (20.0, 14.0)])
    mean, sd = fit(made).predict(at)
    theirs = fit_surface(reduce(metric), metric, "house").predict(at * factor["plan"])
    assert_allclose(theirs[0] / 25.4, mean, atol=1e-5)
    assert_allclose(theirs[1] / 25.4, sd, rtol=1e-4)


def test_the_prior_follows_the_size_of_the_area():
    """A hole takes floor away, and a bigger floor bends over longer lengths."""
    area = house(1).book.areas[0]
    units = house(1).book.units
    square = area.model_copy(update={"outline": ((0, 0), (40, 0), (40, 40), (0, 40))})
    hole = ((10, 10), (30, 10), (30, 30), (10, 30))
    plain = floor_prior(square, units).median.length
    holed = floor_prior(square.model_copy(update={"holes": (hole,)}), units).median.length
    assert holed / plain == pytest.approx(np.sqrt(1200 / 1600))
    backwards = square.model_copy(update={"outline": square.outline[::-1]})
    assert floor_prior(backwards, units).median.length == pytest.approx(plain)


@pytest.mark.parametrize(
    ("level", "plan", "expected"),
    [("in", "ft", (0.4, 24.0, 0.05)), ("mm", "m", (10.16, 24.0 * 0.3048, 1.27))],
)
def test_the_prior_is_the_one_that_is_told(level, plan, expected):
    """For a floor of 1,600 square feet the medians are those of the method's page."""
    units = house(1).book.units.model_copy(update={"level": level, "plan": plan})
    side = 40.0 if plan == "ft" else 40.0 * 0.3048
    square = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
    area = house(1).book.areas[0].model_copy(update={"outline": square})
    median = floor_prior(area, units).median
    assert_allclose((median.amplitude, median.length, median.unevenness), expected)


def test_a_very_small_area_still_bends_gently():
    """The median length does not fall below 6 ft, however small the area."""
    area = house(1).book.areas[0]
    closet = area.model_copy(update={"outline": ((0, 0), (3, 0), (3, 3), (0, 3))})
    assert floor_prior(closet, house(1).book.units).median.length == pytest.approx(6.0)


@pytest.mark.parametrize(("off", "enough"), [(1e-3, False), (1.0, True)])
@pytest.mark.parametrize("scale", [0.01, 1.0, 100.0])
def test_nearly_in_line_is_in_line(off, enough, scale):
    """A hair off the line tells no tilt across; a foot off does, in any plan unit."""
    made = house(5, stations=12, finishes=1, setups=1)
    line = {f"p{k}": (2.0 * k * scale, off * (k % 2) * scale) for k in range(1, 13)}
    book = with_stations(made.book, at=line)
    assert isinstance(fit_surface(reduce(book), book, "house"), Surface) is enough


def test_more_stations_than_the_likelihood_needs():
    """Beyond the limit the hyperparameters come from a spread subset, the floor from all."""
    made = house(10, kind="dome", stations=MOST + 60)
    surface = fit(made)
    assert len(surface.stations) == MOST + 60
    mean, _ = surface.predict(surface.xy)
    true, _ = made.truth.predict(surface.xy)
    assert np.std(mean - true) < 0.04


def test_spread_out_places_cover():
    """The chosen places leave no gap much larger than the best of that many could."""
    rng = np.random.default_rng(2)
    xy = np.vstack([rng.uniform(0, 1, (500, 2)), rng.normal(0.5, 0.01, (500, 2))])
    chosen = spread_out(xy, 64)
    assert len(set(chosen.tolist())) == 64
    gaps = np.hypot(*(xy[:, None] - xy[chosen]).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() < 0.18


QUANTITIES = ("surface", "differences")


@pytest.fixture(scope="module")
def scores():
    """Scores (true less fitted, over sd) of 36 houses of every kind, 12 to 90 stations."""
    found = {name: [] for name in QUANTITIES}
    kinds = (
        "tilt",
        "dome",
        "dish",
        "edge droop",
        "corner droop",
        "hinge",
        "process",
        "hog and tilt",
    )
    for k in range(36):
        rng = np.random.default_rng([99, k])
        made = simulate_house(
            rng,
            kind=kinds[k % len(kinds)],
            stations=int(rng.integers(12, 91)),
            sd=rng.uniform(0.03, 0.07),
            unevenness=rng.uniform(0, 0.08),
            plan="L" if k % 2 else "rectangle",
        )
        surface = fit(made)
        at = surface.xy[rng.integers(0, len(surface.xy), 20)] + rng.uniform(-2, 2, (20, 2))
        contrast = np.eye(20)[1:] - np.eye(20)[:-1]
        for name, weights in zip(QUANTITIES, (np.eye(20), contrast), strict=True):
            mean, cov = surface.functional(weights, at)
            true, _ = made.truth.functional(weights, at)
            found[name].append((true - mean) / np.sqrt(np.diag(cov)))
    return {name: np.concatenate(values) for name, values in found.items()}


@pytest.mark.parametrize("name", QUANTITIES)
def test_intervals_hold_the_truth(scores, name):
    """Near 95 % of the 95 % intervals hold the truth; the full run is the benchmark's."""
    assert 0.91 < np.mean(np.abs(scores[name]) < 1.96) < 0.99
    assert 0.7 < np.std(scores[name]) < 1.25
