"""Simulated houses: repeatable, well formed, and true to what they claim."""

import numpy as np
import pytest

from levelbook.book.model import Book
from levelbook.floor.floors import KINDS, draw_floor
from levelbook.floor.simulate import FINISHES, Recipe, draw_outline, simulate_house


def fresh(seed=1):
    return np.random.default_rng(seed)


def test_same_seed_same_house():
    """One seed gives one house; another seed another."""
    one, same, other = (simulate_house(fresh(seed), plan="L") for seed in (3, 3, 4))
    assert one.book == same.book
    assert one.levels == same.levels
    assert one.book != other.book


def test_an_unknown_option_is_refused():
    """A misspelt option does not pass in silence."""
    with pytest.raises(TypeError, match="statoins"):
        simulate_house(fresh(), statoins=3)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("plan", "stations"), [("rectangle", 30), ("L", 150), ("L", 12)])
def test_readings_follow_the_model(kind, plan, stations):
    """Each written value is level plus height plus constant, within error and rounding."""
    house = simulate_house(fresh(5), kind=kind, plan=plan, stations=stations, sd=0.04)
    assert len(house.book.stations) == stations
    assert Book.model_validate_json(house.book.model_dump_json()) == house.book
    errors = [
        float(r.value)
        - house.levels[r.station]
        - house.heights[r.finish]
        - house.constants[r.setup]
        for r in house.book.readings
    ]
    spread = np.hypot(0.04, 0.1 / 12**0.5)
    assert np.abs(errors).max() < 4.5 * spread
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(spread, rel=0.45)


def test_a_rod_reads_the_other_way():
    """With a rod a higher floor gives a smaller reading."""
    more = simulate_house(fresh(2), higher_reads="more", sd=0.0, resolution=0.001)
    less = simulate_house(fresh(2), higher_reads="less", sd=0.0, resolution=0.001)
    assert [float(r.value) for r in more.book.readings] == [
        -float(r.value) for r in less.book.readings
    ]


def test_levels_refer_to_the_reference_station_on_its_finish():
    """The reference has level 0 and its finish height 0, as the adjustment defines them."""
    house = simulate_house(fresh(8), unevenness=0.08)
    reference = house.book.reference
    assert house.levels[reference.station] == 0.0
    assert house.heights[reference.finish] == 0.0
    assert house.book.readings[0].station == reference.station


def test_truth_answers_like_a_surface():
    """Without unevenness the truth at the stations is their levels; its uncertainty is 0."""
    house = simulate_house(fresh(9), kind="process", unevenness=0.0)
    xy = np.array([s.at for s in house.book.stations])
    mean, sd = house.truth.predict(xy)
    assert mean == pytest.approx(np.array(list(house.levels.values())), abs=1e-12)
    assert not sd.any()
    weights = np.vstack([np.eye(len(xy))[0] - np.eye(len(xy))[3], np.full(len(xy), 1 / len(xy))])
    value, covariance = house.truth.functional(weights, xy)
    assert value == pytest.approx([mean[0] - mean[3], mean.mean()])
    assert covariance.shape == (2, 2)
    assert not covariance.any()
    slope, spread = house.truth.gradient(xy)
    nudged = house.truth.predict(xy + np.array([0.01, 0.0]))[0] - mean
    assert slope[:, 0] == pytest.approx(nudged / 0.01, abs=1e-3)
    assert spread.shape == (len(xy), 2, 2)


@pytest.mark.parametrize("plan", ["rectangle", "L"])
def test_stations_stand_on_the_floor_and_apart(plan):
    """No station lies outside the walls or on top of another; corners are read."""
    house = simulate_house(fresh(11), stations=80, plan=plan)
    xy = np.array([s.at for s in house.book.stations])
    gaps = np.hypot(*(xy[:, None] - xy).transpose(2, 0, 1)) + 99 * np.eye(len(xy))
    assert gaps.min() > 0.5
    for corner in np.array(house.book.areas[0].outline):
        assert np.hypot(*(xy - corner).T).min() < 1.0


def test_readings_tie_setups_and_finishes_and_close():
    """Two setups share stations, doorways have both finishes, and each setup closes."""
    house = simulate_house(fresh(12), stations=60, finishes=3, setups=2)
    by_setup = {"A": [], "B": []}
    finishes_at = {}
    for r in house.book.readings:
        by_setup[r.setup].append(r.station)
        finishes_at.setdefault(r.station, set()).add(r.finish)
    assert len(set(by_setup["A"]) & set(by_setup["B"])) >= 2
    paired = [f for f in finishes_at.values() if len(f) > 1]
    assert {frozenset(f) for f in paired} == {frozenset(FINISHES[0:2]), frozenset(FINISHES[1:3])}
    assert all(stations[0] == stations[-1] for stations in by_setup.values())


def test_slips_are_made_where_told():
    """Slips change the reading they name and no other, from the value it should have."""
    options = {"kind": "dome", "stations": 70}
    clean = simulate_house(fresh(13), **options)
    house = simulate_house(fresh(13), decimal_slips=2, sign_slips=2, **options)
    slips = {s.reading: s for s in house.slips}
    assert sorted(s.kind for s in house.slips) == ["decimal", "decimal", "sign", "sign"]
    for good, bad in zip(clean.book.readings, house.book.readings, strict=True):
        if good.id not in slips:
            assert good == bad
            continue
        slip = slips[good.id]
        assert (good.value, bad.value) == (slip.meant, slip.written)
        factor = 10 if slip.kind == "decimal" else -1
        assert float(bad.value) == pytest.approx(factor * float(good.value))
        assert abs(float(good.value)) >= (0.2 if slip.kind == "decimal" else 0.4)


def test_readings_are_rounded_to_the_instrument():
    """A 0.25 instrument writes multiples of 0.25 with two decimals."""
    house = simulate_house(fresh(14), resolution=0.25)
    assert all(float(r.value) * 4 == round(float(r.value) * 4) for r in house.book.readings)
    assert all(len(r.value.split(".")[1]) == 2 for r in house.book.readings)
    assert not any(r.value == "-0.00" for r in house.book.readings)


@pytest.mark.parametrize(
    ("kind", "centre_is"), [("dome", "higher"), ("dish", "lower"), ("level", "equal")]
)
def test_kinds_have_the_shape_of_their_name(kind, centre_is):
    """Against the mean of the corners, a dome's middle is higher, a dish's lower."""
    rng = fresh(15)
    outline = draw_outline(rng, "rectangle")
    floor = draw_floor(rng, kind, outline)
    corners = np.array(outline)
    middle = floor(corners.mean(axis=0)[None])[0] - floor(corners).mean()
    assert {"higher": middle > 0.1, "lower": middle < -0.1, "equal": middle == 0.0}[centre_is]


@pytest.mark.parametrize("kind", ["corner droop", "edge droop"])
def test_droops_reach_every_side(kind):
    """Over many draws the lowest place is found at all corners (or sides) of the house."""
    lowest = set()
    for seed in range(60):
        rng = fresh(seed)
        outline = draw_outline(rng, "rectangle")
        corners = np.array(outline)
        lowest.add(int(np.argmin(draw_floor(rng, kind, outline)(corners))))
    assert lowest == {0, 1, 2, 3}


def test_a_process_draw_has_the_variance_it_should():
    """Random cosines reproduce a process: variance between the bounds it is drawn from."""
    outline = draw_outline(fresh(1), "rectangle")
    rng = fresh(16)
    place = np.array([[5.0, 5.0], [30.0, 20.0]])
    values = [np.diff(draw_floor(rng, "process", outline)(place))[0] for _ in range(300)]
    assert 0.3 < np.std(values) < 0.65  # sqrt(2) times 0.2 to 0.5, and the small tilt


def test_the_recipe_is_frozen():
    """A recipe is a value."""
    with pytest.raises(AttributeError):
        Recipe().sd = 1.0
