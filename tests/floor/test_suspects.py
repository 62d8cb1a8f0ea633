"""Readings that do not fit: found, explained, and the sound ones left alone."""

import math
from collections import Counter

import numpy as np
import pytest
from known_floors import book_of, instrument

from levelbook.book import parse_value, read_book
from levelbook.book.model import Area, Reading, Station, Units
from levelbook.floor import fit_surface, suspects
from levelbook.floor.explain import LARGEST_ODDS, as_shown, explain
from levelbook.floor.floors import KINDS
from levelbook.floor.simulate import simulate_house
from levelbook.floor.slips import Slip, Verdict
from levelbook.floor.suspects import find_suspects
from levelbook.levels import reduce


@pytest.fixture(scope="module")
def house(house_a):
    return read_book(house_a)


def rewritten(book, **values):
    """Return the book with some readings written otherwise."""
    readings = tuple(
        r.model_copy(update={"value": values[r.id]}) if r.id in values else r for r in book.readings
    )
    return book.model_copy(update={"readings": readings})


def found_in(book):
    return {s.reading: s for s in find_suspects(book, reduce(book))}


def test_a_sound_book_has_no_suspects(house):
    """Nothing is flagged in the sample book."""
    assert find_suspects(house, reduce(house)) == ()


@pytest.mark.parametrize(
    ("reading", "value", "kind", "suggestion"),
    [
        ("r3", "-1", "decimal", None),
        ("r6", "-6", "decimal", "-0.6"),
        ("r22", "3.0", "decimal", "0.3"),
        ("r27", "3.0", "decimal", "0.3"),
        ("r42", "-10.0", "decimal", "-1.0"),
        ("r6", "0.6", "sign", "-0.6"),
        ("r29", "-0.4", "sign", "0.4"),
        ("r43", "0.9", "sign", "-0.9"),
    ],
)
def test_slips_are_found_and_named(house, reading, value, kind, suggestion):
    """On walls, inside, in a pair that gives a finish its height, among a garage's nine."""
    suspects_ = found_in(rewritten(house, **{reading: value}))
    assert set(suspects_) == {reading}
    found = suspects_[reading]
    assert found.kind == kind
    assert found.value == value
    if suggestion is not None:
        assert found.suggestion == suggestion
    before = next(r for r in house.readings if r.id == reading)
    assert found.station == before.station
    assert abs(found.expected - float(before.value)) < 3 * found.expected_sd
    assert 0.06 < found.expected_sd < 0.5
    assert found.odds > 10


def test_the_sentence_tells_what_is_expected_and_what_may_have_happened(house):
    """Plain words with the figures as an instrument shows them."""
    assert found_in(rewritten(house, r6="-6"))["r6"].why == (
        "Its neighbours suggest -0.5 ± 0.2; -6 may be -0.6 with the point forgotten."
    )
    assert found_in(rewritten(house, r42="-10.0"))["r42"].why.endswith(
        "-10.0 may be -1.0 with the point misplaced."
    )
    assert found_in(rewritten(house, r29="-0.4"))["r29"].why == (
        "The readings it is tied to suggest 0.4 ± 0.2; -0.4 may be 0.4 with the wrong sign."
    )


def test_swapped_digits_are_told():
    """1.2 written as 2.1 on a floor a good inch down there."""
    book, row = rolling()
    assert book.readings[row].value == "1.2"
    found = found_in(rewritten(book, **{f"r{row}": "2.1"}))[f"r{row}"]
    assert (found.kind, found.suggestion) == ("digits", "1.2")
    assert found.why.endswith("2.1 may be 1.2 with two digits swapped.")


def rolling(more="more", resolution=0.1):
    """Return a smooth floor read in 48 places, and a station well inside that reads 1.2."""
    rng = np.random.default_rng(4)
    xy = np.array([(x, y) for x in np.linspace(1, 39, 8) for y in np.linspace(1, 27, 6)])
    level = 1.23 - 0.002 * (xy[:, 0] - 18) ** 2 - 0.002 * (xy[:, 1] - 12) ** 2
    sense = 1 if more == "more" else -1
    shown = sense * (level + 0.05 * rng.standard_normal(48))
    book = book_of(xy, [f"{v:.1f}" for v in shown], instrument=instrument(higher_reads=more))
    inside = [i for i in range(48) if 8 < xy[i, 0] < 28 and 5 < xy[i, 1] < 20]
    return book, next(i for i in inside if abs(float(book.readings[i].value)) == 1.2)


def test_an_error_without_a_simple_cause_is_left_to_its_neighbours():
    """2.6 in where 1.2 belongs fits no slip of the pen: it is told, and nothing suggested."""
    book, row = rolling()
    found = found_in(rewritten(book, **{f"r{row}": "2.6"}))[f"r{row}"]
    assert (found.kind, found.suggestion) == ("neighbours", None)
    assert found.why == "Its neighbours suggest 1.1 ± 0.2; no simple slip of the pen explains 2.6."


def two_finishes(step):
    """Return a floor half tile and half oak ``step`` higher, tied by one pair, and the pair."""
    rng = np.random.default_rng(11)
    xy = np.array([(x, y) for x in np.linspace(1, 39, 8) for y in np.linspace(1, 27, 5)])
    level = 0.3 - 0.001 * (xy[:, 0] - 20) ** 2
    oak = xy[:, 0] > 20
    values = level + step * oak + 0.05 * rng.standard_normal(len(xy))
    book = book_of(xy, [f"{v:.1f}" for v in values])
    readings = tuple(
        r.model_copy(update={"finish": "oak"}) if on else r
        for r, on in zip(book.readings, oak, strict=True)
    )
    near = int(np.argmin(np.hypot(*(xy - [17, 14]).T)))
    pair = Reading(
        id="pair", setup="A", station=f"s{near}", finish="oak", value=f"{level[near] + step:.1f}"
    )
    return book.model_copy(update={"readings": (*readings, pair)}), pair


def test_a_forgotten_finish_is_told():
    """A station on oak written down as tile stands 0.8 too high; the finish is named."""
    book, _ = two_finishes(0.8)
    row = next(i for i, s in enumerate(book.stations) if s.at[0] > 27 and s.at[1] > 12)
    wrong = book.readings[row].model_copy(update={"finish": "tile"})
    readings = (*book.readings[:row], wrong, *book.readings[row + 1 :])
    found = found_in(book.model_copy(update={"readings": readings}))
    assert set(found) == {wrong.id}
    assert (found[wrong.id].kind, found[wrong.id].suggestion) == ("finish", None)
    assert found[wrong.id].why.endswith(
        f"{wrong.value} would fit if it was taken on Oak and not on Tile."
    )


def test_a_contradicted_reading_without_a_simple_cause_is_a_residual(house):
    """The start read again 0.7 too high contradicts the other readings there."""
    found = found_in(rewritten(house, r34="0.7"))
    assert set(found) == {"r34"}
    assert found["r34"].kind == "residual"
    assert found["r34"].why.startswith("The readings it is tied to suggest 0.0 ± 0.2; no simple")


def test_struck_readings_take_no_part(house):
    """A slip that was struck is neither told nor believed."""
    slipped = rewritten(house, r6="-6")
    readings = tuple(
        r.model_copy(update={"struck": True}) if r.id == "r6" else r for r in slipped.readings
    )
    assert found_in(slipped.model_copy(update={"readings": readings})) == {}


@pytest.mark.parametrize("more", ["more", "less"])
def test_expected_is_in_the_readings_own_sense(more):
    """With a staff that reads less on a higher floor, signs follow the staff."""
    book, row = rolling(more)
    value = book.readings[row].value
    found = found_in(rewritten(book, **{f"r{row}": f"{-float(value):.1f}"}))[f"r{row}"]
    assert (found.kind, found.suggestion) == ("sign", value)
    assert found.expected == pytest.approx(float(value), abs=0.25)


def test_units_and_order_change_nothing():
    """In millimetres and metres, and written down backwards, the same readings are told."""
    book, row = rolling()
    slipped = rewritten(book, **{f"r{row}": "12.0"})
    want = found_in(slipped)[f"r{row}"]
    backwards = slipped.model_copy(
        update={"readings": slipped.readings[::-1], "stations": slipped.stations[::-1]}
    )
    there = found_in(backwards)
    assert set(there) == {f"r{row}"}
    assert there[f"r{row}"].expected == pytest.approx(want.expected, abs=1e-4)
    metric = slipped.model_copy(
        update={
            "units": Units(level="mm", plan="m"),
            "instruments": (instrument(resolution=2.54, sd=1.27),),
            "readings": tuple(
                r.model_copy(update={"value": f"{25.4 * float(r.value):.2f}"})
                for r in slipped.readings
            ),
            "stations": tuple(
                s.model_copy(update={"at": (0.3048 * s.at[0], 0.3048 * s.at[1])})
                for s in slipped.stations
            ),
            "areas": (
                Area(
                    id="a",
                    kind="living",
                    outline=((0, 0), (12.192, 0), (12.192, 8.5344), (0, 8.5344)),
                ),
            ),
        }
    )
    same = found_in(metric)
    assert set(same) == {f"r{row}"}
    assert same[f"r{row}"].expected == pytest.approx(25.4 * want.expected, rel=1e-3)
    assert same[f"r{row}"].expected_sd == pytest.approx(25.4 * want.expected_sd, rel=1e-3)
    assert same[f"r{row}"].kind == "decimal"


def test_most_suspicious_first():
    """Two slips: the wilder one leads."""
    book, row = rolling()
    other = row + 13
    wild = f"{10 * float(book.readings[row].value):.1f}"
    odd = f"{-float(book.readings[other].value):.1f}"
    found = find_suspects(*_with_levels(rewritten(book, **{f"r{row}": wild, f"r{other}": odd})))
    assert [s.reading for s in found] == [f"r{row}", f"r{other}"]
    assert found[0].odds == LARGEST_ODDS
    assert 10 < found[1].odds <= LARGEST_ODDS


def _with_levels(book):
    return book, reduce(book)


def test_fits_at_hand_are_used(house):
    """Given the surfaces of these levels, the outcome is as if fitted here."""
    slipped = rewritten(house, r6="-6")
    levels = reduce(slipped)
    fits = {a.id: fit_surface(levels, slipped, a.id) for a in slipped.areas}
    assert find_suspects(slipped, levels, fits) == find_suspects(slipped, levels)


def shed(values):
    """Return a floor with too few stations for a surface, each read twice."""
    at = [(1.0, 1.0), (9.0, 1.0), (5.0, 9.0)]
    twice = tuple(
        Reading(id=f"q{i}", setup="A", station=f"s{i}", finish="tile", value=value)
        for i, value in enumerate(values)
    )
    return book_of(at, ["0.0", "0.4", "-0.3"], readings=twice)


def test_where_there_is_no_surface_only_the_network_speaks():
    """Of two readings of one station that differ by 3.6 one is wrong; of one, none can tell."""
    found = found_in(shed(["0.0", "4.0", "-0.3"]))
    assert len(found) == 1
    assert set(found) <= {"r1", "q1"}
    assert found_in(shed(["0.0", "0.4", "-0.3"])) == {}
    single = book_of([(1.0, 1.0), (9.0, 1.0), (5.0, 9.0)], ["0.0", "40.0", "-0.3"])
    assert found_in(single) == {}


def test_one_reading_or_none_is_no_matter():
    """A book just begun has no suspects."""
    assert found_in(book_of([(1.0, 1.0)], ["0.0"])) == {}


def test_a_finish_known_by_one_pair_points_at_the_pair():
    """Where one pair lifts half the floor by 7 in, the pair is told and not the half."""
    book, pair = two_finishes(0.5)
    assert found_in(book) == {}
    found = found_in(rewritten(book, pair=f"{10 * float(pair.value):.1f}"))
    assert set(found) == {"pair"}
    assert (found["pair"].kind, found["pair"].suggestion) == ("decimal", pair.value)


def test_a_very_large_visit_is_held_against_its_network(house, monkeypatch):
    """Beyond the largest size only ties speak, one reading a station at most."""
    monkeypatch.setattr(suspects, "LARGEST", 10)
    assert found_in(house) == {}
    assert found_in(rewritten(house, r6="-6")) == {}
    found = found_in(rewritten(house, r27="3.0"))
    assert "r27" in found
    assert found["r27"].kind == "decimal"
    assert found["r27"].expected == pytest.approx(0.37, abs=0.1)
    stations = [s.station for s in found.values()]
    assert len(stations) == len(set(stations))


@pytest.mark.parametrize(
    ("value", "resolution", "fraction", "shown"),
    [
        (0.437, 0.1, False, "0.4"),
        (-0.02, 0.1, False, "0.0"),
        (3.3, 1.0, False, "3"),
        (0.31, 0.125, False, "0.250"),
        (-1.4, 0.125, True, "-1 3/8"),
        (0.6, 0.125, True, "5/8"),
        (2.02, 0.0625, True, "2"),
        (-0.01, 0.125, True, "0"),
    ],
)
def test_expected_values_are_told_as_the_instrument_shows_them(value, resolution, fraction, shown):
    """Rounded to its resolution, as decimals or mixed numbers, with no sign on zero."""
    assert as_shown(value, resolution, fraction) == shown


@pytest.mark.parametrize("slip", ["none", "decimal", "sign"])
def test_rates_on_simulated_houses(slip):
    """Decimal slips of 0.2 in and more are found, most sign slips, and few sound readings told."""
    count: Counter[str] = Counter()
    for seed in range(27):
        rng = np.random.default_rng([5, seed])
        house = simulate_house(
            rng,
            kind=KINDS[seed % len(KINDS)],
            stations=int(rng.integers(30, 71)),
            unevenness=0.05,
            plan="L" if seed % 2 else "rectangle",
            decimal_slips=int(slip == "decimal"),
            sign_slips=int(slip == "sign"),
        )
        told = found_in(house.book)
        for made in house.slips:
            count["slips"] += 1
            count["found"] += made.reading in told
            if made.reading in told:
                meant = told[made.reading].suggestion
                count["right"] += meant is not None and parse_value(meant) == parse_value(
                    made.meant
                )
        count["false"] += len(told.keys() - {made.reading for made in house.slips})
        count["sound"] += len(house.book.readings) - len(house.slips)
    assert count["false"] <= 0.005 * count["sound"]
    if slip != "none":
        assert count["slips"] == 27
        assert count["found"] >= math.ceil({"decimal": 0.99, "sign": 0.85}[slip] * 27)
        assert count["right"] >= count["found"] - 2


def test_several_slips_in_one_house():
    """Three slips at once are all found, and no sound reading is told for them."""
    missed = false = 0
    for seed in range(8):
        house = simulate_house(
            np.random.default_rng([6, seed]),
            kind=KINDS[seed % len(KINDS)],
            stations=60,
            decimal_slips=2,
            sign_slips=1,
        )
        told = found_in(house.book)
        wrong = {made.reading for made in house.slips}
        missed, false = missed + len(wrong - told.keys()), false + len(told.keys() - wrong)
    assert missed <= 1
    assert false == 0


def test_stations_of_no_reading_do_no_harm(house):
    """A station put on the plan and never read takes no part."""
    more = Station(id="new", at=(20.0, 20.0), area="house")
    book = house.model_copy(update={"stations": (*house.stations, more)})
    assert found_in(book) == {}


def test_a_large_visit_tells_the_sd_of_its_network(house, monkeypatch):
    """Expected and its sd follow from residual and redundancy of the adjustment."""
    slipped = rewritten(house, r27="3.0")
    levels = reduce(slipped)
    monkeypatch.setattr(suspects, "LARGEST", 10)
    found = found_in(slipped)["r27"]
    residual = levels.residuals["r27"]
    variance = 0.05**2 + 0.1**2 / 12
    assert found.expected == pytest.approx(3.0 - residual.residual / residual.redundancy)
    assert found.expected_sd == pytest.approx(math.sqrt(variance / residual.redundancy))


@pytest.mark.parametrize(("log_odds", "odds"), [(3.0, math.exp(3.0)), (900.0, LARGEST_ODDS)])
def test_odds_are_told_up_to_a_limit(house, log_odds, odds):
    """Plain odds from their logarithm, cut off where the model is less sure than its figure."""
    verdict = Verdict(log_odds, Slip("neighbours", 0.0, 1.0, 0.003))
    told = explain(house.readings[5], instrument(), (0.4, 0.1), verdict, False, {})
    assert told.odds == pytest.approx(odds)
    assert (told.expected, told.expected_sd) == (0.4, 0.1)


def test_what_cannot_be_told_is_never_suspicious():
    """Without an expectation there are no odds at all."""
    assert suspects._log_odds(None) == -math.inf


def test_errors_have_as_much_freedom_as_their_area_has_readings(house):
    """Student's t has three degrees fewer than the area has readings, and three at least."""
    case = suspects._case(house)
    areas = {s.id: s.area for s in house.stations}
    count = Counter(areas[r.station] for r in house.readings)
    for reading, freedom in zip(case.observations.readings, case.freedom, strict=True):
        assert freedom == count[areas[reading.station]] - 3
    assert set(suspects._case(shed(["0.0", "0.4", "-0.3"])).freedom) == {3.0}


def test_no_more_readings_are_told_than_the_most(monkeypatch):
    """With room for one, the worse of two wrong readings is told, and the other is not."""
    book, row = rolling()
    other = row + 13
    wild = f"{10 * float(book.readings[row].value):.1f}"
    odd = f"{-float(book.readings[other].value):.1f}"
    spoilt = rewritten(book, **{f"r{row}": wild, f"r{other}": odd})
    assert len(found_in(spoilt)) == 2
    monkeypatch.setattr(suspects, "MOST", 1)
    assert set(found_in(spoilt)) == {f"r{row}"}


def test_what_fits_or_cannot_be_told_is_not_reported(house):
    """Of a reading far off one is told; of one that fits, or that nothing ties, none is."""
    case, heights = suspects._case(house), reduce(house).finishes
    off, variance = np.zeros((2, len(house.readings)))
    variance += 0.1**2
    off[5] = 3.0
    assert len(suspects._told(case, heights, (4, 5), (off, variance), set())) == 1
    variance[5] = np.inf
    assert suspects._told(case, heights, (4, 5), (off, variance), set()) == ()


@pytest.mark.parametrize(
    ("expected", "resolution", "said"),
    [
        (0.4, 0.0, "0.40 ± 0.20"),
        (-1e-17, 0.0, "0.00 ± 0.20"),
        (0.4, 0.1, "0.4 ± 0.2"),
    ],
)
def test_an_expectation_is_told_as_finely_as_the_instrument_reads(
    house, expected, resolution, said
):
    """0.4 with an sd of 0.1 is ± 0.196, rounded up to the instrument's step or to two figures."""
    verdict = Verdict(5.0, Slip("neighbours", 0.0, 1.0, 0.003))
    tool = instrument(resolution=resolution)
    told = explain(house.readings[5], tool, (expected, 0.1), verdict, False, {})
    assert f"suggest {said};" in told.why
