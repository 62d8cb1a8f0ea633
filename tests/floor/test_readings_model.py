"""What the others expect of a reading, held against leaving it out in earnest."""

import numpy as np
import pytest
from known_floors import ROUGH, book_of, surface_of
from numpy.testing import assert_allclose

from levelbook.book.model import Area, Reading, Station
from levelbook.floor.fit import fit_surface
from levelbook.floor.readings import network_model, reading_model, site_of
from levelbook.floor.simulate import simulate_house
from levelbook.floor.surface import Surface
from levelbook.levels import leave_one_out, reduce
from levelbook.levels.observations import observe

HYPERS = {"house": ROUGH}


@pytest.fixture(scope="module")
def house():
    return simulate_house(np.random.default_rng(3), kind="dome", stations=20).book


def by_brute_force(book, left_out, hypers):
    """Return off and variance of each reading left out, conditioning on all that are not.

    A plain Gaussian model: every unknown has a prior so wide that it does not matter.
    """
    o = observe(book)
    site = site_of(book, o)
    n = len(o.readings)
    xy = site.xy[o.station]
    distance = np.hypot(*(xy[:, None] - xy).transpose(2, 0, 1))
    hyper = hypers["house"]
    t = np.sqrt(5) * distance / hyper.length
    total = hyper.amplitude**2 * (1 + t + t**2 / 3) * np.exp(-t)
    total += hyper.unevenness**2 * (o.station[:, None] == o.station) + np.diag(o.sd**2)
    centred = (xy - xy.mean(axis=0)) / 20
    flat = [
        np.ones((n, 1)),
        centred,
        o.finish[:, None] == np.arange(len(o.finishes)),
        o.setup[:, None] == np.arange(len(o.setups)),
    ]
    design = np.column_stack(flat).astype(float)
    total += 100.0 * design @ design.T
    kept = np.setdiff1d(np.arange(n), left_out)
    gain = total[np.ix_(left_out, kept)] @ np.linalg.inv(total[np.ix_(kept, kept)])
    off = o.value[left_out] - gain @ o.value[kept]
    variance = total[np.ix_(left_out, left_out)] - gain @ total[np.ix_(kept, left_out)]
    return off, np.diag(variance)


def model_of(book, hypers):
    observations = observe(book)
    return reading_model(observations, site_of(book, observations), hypers)


def test_each_reading_is_expected_as_if_left_out(house):
    """One factorisation gives what leaving out each reading in turn gives."""
    off, variance = model_of(house, HYPERS).expect()
    for row in range(len(off)):
        want, spread = by_brute_force(house, [row], HYPERS)
        assert off[row] == pytest.approx(want[0], abs=1e-3)
        assert variance[row] == pytest.approx(spread[0], rel=1e-3)


def test_a_set_left_out_is_expected_from_the_others_alone(house):
    """Readings in the set do not speak for each other, nor for the rest."""
    out = [2, 7, 8, 20]
    off, variance = model_of(house, HYPERS).expect(out)
    want, spread = by_brute_force(house, out, HYPERS)
    assert_allclose(off[out], want, atol=1e-3)
    assert_allclose(variance[out], spread, rtol=1e-3)
    for row in (0, 5, 13):
        want, spread = by_brute_force(house, [row, *out], HYPERS)
        assert off[row] == pytest.approx(want[0], abs=1e-3)
        assert variance[row] == pytest.approx(spread[0], rel=1e-3)


def test_the_network_alone_agrees_with_the_adjustment(house):
    """Without the floor, what is expected is what the levels' own leave-one-out tells."""
    levels, o = reduce(house), observe(house)
    rows, network = network_model(o, site_of(house, o))
    off, variance = network.expect()
    told = 0
    for row, reading in enumerate(o.readings):
        want = leave_one_out(house, levels, reading.id)
        if row not in rows or not np.isfinite(variance[list(rows).index(row)]):
            assert want is None
            continue
        at = list(rows).index(row)
        told += 1
        assert float(reading.value) - off[at] == pytest.approx(want.value, abs=1e-9)
        assert variance[at] == pytest.approx(want.sd**2 + o.sd[row] ** 2)
    assert told > 5


def test_a_plain_floor_agrees_with_the_surface():
    """One setup and one finish: the same as leaving a station out of the fitted surface."""
    rng = np.random.default_rng(5)
    xy = rng.uniform((0, 0), (40, 28), (25, 2))
    book = book_of(xy, [f"{v:.1f}" for v in rng.normal(0, 0.4, 25)])
    surface = fit_surface(reduce(book), book, "a")
    assert isinstance(surface, Surface)
    off, variance = model_of(book, {"a": surface.hyper}).expect()
    o = observe(book)
    plain = surface_of(xy, o.value, surface.hyper, o.sd[0])
    want, sd = plain.leave_one_out()
    assert_allclose(o.value - off, want, atol=1e-8)
    assert_allclose(np.sqrt(variance), sd, rtol=1e-7)


def test_shifting_a_setup_changes_nothing(house):
    """Constants are unknown: adding to every reading of a setup moves no reading off."""
    shifted = tuple(
        r.model_copy(update={"value": f"{float(r.value) + 3:.1f}"}) if r.setup == "B" else r
        for r in house.readings
    )
    there = house.model_copy(update={"readings": shifted})
    for left_out in ((), (3, 9)):
        still, moved = (model_of(b, HYPERS).expect(left_out) for b in (house, there))
        assert_allclose(moved[0], still[0], atol=1e-8)
        assert_allclose(moved[1], still[1], rtol=1e-8)


def test_drift_is_an_unknown_where_the_times_tell_it(house):
    """A steady drift of a timed setup with a closing check moves no reading off."""
    order = {r.id: i for i, r in enumerate(r for r in house.readings if r.setup == "A")}
    timed = [
        r.model_copy(update={"time": f"09:{order[r.id]:02d}"}) if r.id in order else r
        for r in house.readings
    ]
    drifted = [
        r.model_copy(update={"value": f"{float(r.value) + 0.02 * order[r.id]:.2f}"})
        if r.id in order
        else r
        for r in timed
    ]
    still, there = (house.model_copy(update={"readings": tuple(r)}) for r in (timed, drifted))
    assert observe(still).elapsed.drifts[0]
    want, off = (model_of(b, HYPERS).expect() for b in (still, there))
    assert_allclose(off[0], want[0], atol=1e-8)
    assert not np.allclose(want[1], model_of(house, HYPERS).expect()[1])


def test_what_the_others_cannot_tell_is_left_open():
    """A reading that alone ties a finish is expected by nothing."""
    rng = np.random.default_rng(6)
    xy = rng.uniform((0, 0), (40, 28), (12, 2))
    alone = Reading(id="x", setup="A", station="s3", finish="oak", value="0.9")
    book = book_of(xy, ["0.1"] * 12, readings=(alone,))
    off, variance = model_of(book, {"a": ROUGH}).expect()
    assert np.isnan(off[12])
    assert np.isinf(variance[12])
    assert np.isfinite(variance[:12]).all()
    off, variance = model_of(book, {"a": ROUGH}).expect([12, 4])
    assert np.isinf(variance[12])
    assert np.isfinite(variance[4])


def test_areas_do_not_speak_for_each_other():
    """A garage of its own setup neither helps nor harms what the house expects."""
    rng = np.random.default_rng(7)
    xy = rng.uniform((0, 0), (40, 28), (12, 2))
    values = [f"{v:.1f}" for v in rng.normal(0, 0.3, 12)]
    alone = book_of(xy, values)
    garage = Area(id="g", kind="garage", outline=((50, 0), (70, 0), (70, 20), (50, 20)))
    more = rng.uniform((50, 0), (70, 20), (8, 2))
    stations = tuple(
        Station(id=f"g{i}", at=tuple(map(float, p)), area="g") for i, p in enumerate(more)
    )
    readings = tuple(
        Reading(id=f"q{i}", setup="B", station=f"g{i}", finish="oak", value=f"{v:.1f}")
        for i, v in enumerate(rng.normal(0, 0.3, 8))
    )
    both = book_of(xy, values, areas=(garage,), stations=stations, readings=readings)
    want, found = (
        model_of(alone, {"a": ROUGH}).expect(),
        model_of(both, {"a": ROUGH, "g": ROUGH}).expect(),
    )
    assert_allclose(found[0][:12], want[0], atol=1e-8)
    assert_allclose(found[1][:12], want[1], rtol=1e-7)
    assert np.isfinite(found[1]).all()
    free = model_of(both, {"a": ROUGH}).expect()
    assert np.isinf(free[1][12:]).all()
