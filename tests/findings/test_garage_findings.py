"""Garages and the ground outside in the result: keys, words, criteria and cautions."""

import json
import re

import pytest
from small_books import flat, small_book

from levelbook.book import Book, read_book, write_book
from levelbook.errors import UsageError
from levelbook.findings import assess, assess_document
from levelbook.findings.catalogue import named_set
from levelbook.findings.garage import often, percent

GARAGE = {
    "id": "garage",
    "kind": "garage",
    "outline": [[40, 0], [60, 0], [60, 20], [40, 20]],
    "vehicle_door": [[42, 0], [58, 0]],
}


def with_garage(rise, *, door=True, places=9, marks=(), grades=()) -> Book:
    """Return a flat house with a garage that rises ``rise`` in from its door to the far wall."""
    document = json.loads(write_book(small_book(flat)))
    area = {k: v for k, v in GARAGE.items() if door or k != "vehicle_door"}
    document["areas"].append(area)
    document["setups"].append({"id": "G", "instrument": "L"})
    spots = [(41 + 9 * i, 1 + 9 * j) for j in range(3) for i in range(3)][:places]
    for k, (x, y) in enumerate(spots):
        document["stations"].append({"id": f"g{k}", "at": [x, y], "area": "garage"})
        value = f"{rise * y / 20:.1f}"
        document["readings"].append(
            {"id": f"q{k}", "setup": "G", "station": f"g{k}", "finish": "tile", "value": value}
        )
    document["marks"] = [{"kind": kind, "at": at} for kind, at in marks]
    document["grades"] = list(grades)
    return read_book(json.dumps(document))


HEATER = ("water-heater", [43, 17])


def test_the_key_garage_has_what_the_contract_names():
    """All keys of the contract are there, shares add up to 1 and the draws are the same twice."""
    book = with_garage(1.0, marks=[HEATER])
    found = assess_document(assess(book))
    garage = found["garage"]
    assert set(garage) >= {
        "fall",
        "fall_sd",
        "slope",
        "toward",
        "drains_to_door",
        "drains_to_house",
        "stands",
        "low_spots",
        "from_water_heater",
        "verdict",
    }
    assert found["garages"] == {"garage": garage}
    parts = ("drains_to_door", "drains_to_drain", "drains_to_house", "stands")
    assert sum(garage[key] for key in parts) == pytest.approx(1.0)
    assert garage["verdict"] == "drains"
    assert garage["from_water_heater"]["reaches_door"]
    assert garage["from_water_heater"]["probability"] > 0.95
    assert json.loads(json.dumps(found)) == json.loads(json.dumps(assess_document(assess(book))))


def test_low_spots_have_place_area_and_depth():
    """A floor that rises to its door has its low spot at the far wall, as deep as the rise."""
    garage = assess_document(assess(with_garage(-1.0)))["garage"]
    assert garage["verdict"] == "negative slope"
    assert garage["from_water_heater"] is None
    (spot,) = garage["low_spots"]
    assert set(spot) >= {"at", "area", "area_sd", "depth", "depth_sd", "probability"}
    assert spot["at"][1] > 18
    assert spot["depth"] == pytest.approx(1.0, abs=3 * spot["depth_sd"])


def test_no_garage_is_null_and_reasons_stand_where_there_is_no_door_or_too_little():
    """Nothing is said without a garage; without a door or stations, why."""
    assert assess_document(assess(small_book()))["garage"] is None
    assert assess_document(assess(with_garage(1, door=False)))["garage"]["no_vehicle_door"]
    few = assess_document(assess(with_garage(1, places=3)))["garage"]
    assert (few["too_few"], few["needs"]) == (3, 5)


def test_a_slip_in_a_garage_changes_no_figure_of_the_house():
    """The house is told as it is: only the floor that the slip lies in has a second figure."""
    document = json.loads(write_book(with_garage(1.0)))
    (slip,) = (r for r in document["readings"] if r["id"] == "q4")
    slip["value"] = "9.0"
    told = assess(read_book(json.dumps(document)))
    assert [s.reading for s in told.floor.suspects] == ["q4"]
    assert set(told.without) == {"garage"}
    assert "look like slips" not in " ".join(told.words.summary)


POND = {k: {"value": "-1.0" if k == "q4" else "0.0"} for k in (f"q{n}" for n in range(9))}
ALERTS = [
    (1.0, {}, ()),
    (0.0, {}, ()),
    (-1.0, {}, ("Water on the floor of the garage would run away from its vehicle door",)),
    (
        0.0,
        POND,
        ("Some of the water on the floor of the garage would stand in a low place: sweep",),
    ),
]


@pytest.mark.parametrize(("rise", "readings", "said"), ALERTS)
def test_a_garage_that_sheds_no_water_stands_beside_the_summary(rise, readings, said):
    """One sentence with what to do, only where water would surely not run out."""
    document = json.loads(write_book(with_garage(rise)))
    for reading in document["readings"]:
        reading |= readings.get(reading["id"], {})
        reading |= {"extra": {"confirmed": "read twice"}} if reading["id"] in readings else {}
    told = assess(read_book(json.dumps(document))).words
    assert [each.startswith(start) for each, start in zip(told.alerts, said, strict=True)] == [
        True for _ in said
    ]
    assert all(each in told.sentences.values() for each in told.alerts)


def test_no_garage_that_is_not_known_raises_an_alert():
    """Without a door, or with too few stations, nothing is claimed beside the summary."""
    assert assess(with_garage(-1, door=False)).words.alerts == ()
    assert assess(with_garage(-1, places=3)).words.alerts == ()
    assert assess(small_book()).words.alerts == ()


WORDS = [
    (1.0, "would run out of the vehicle door."),
    (-1.0, "slopes away from the vehicle door"),
    (0.0, "close to level"),
]


@pytest.mark.parametrize(("rise", "said"), WORDS)
def test_what_is_said_of_a_garage(rise, said):
    """The first sentence is the word; every figure in the others has its give-or-take."""
    words = assess(with_garage(rise, marks=[HEATER])).words
    first, fall, shares, *_ = words.garages["garage"]
    assert said in first
    assert "95 % confidence" in fall
    assert len(re.findall(r"at (?:least|most) \d+ %|between \d+ and \d+|anything", shares)) == 3
    text = " ".join(words.garages["garage"])
    for sentence in words.garages["garage"]:
        assert sentence in words.sentences.values()
        assert not re.search(r"[{}]|nan|None|-0 ", sentence)
    assert "drainage" not in text.lower()
    assert "water heater" in text


def test_the_reasons_for_silence_are_told():
    """Without a door, or with too few stations, the words say so and how many are needed."""
    assert (
        "no vehicle door was drawn" in assess(with_garage(1, door=False)).words.garages["garage"][0]
    )
    few = assess(with_garage(1, places=3)).words.garages["garage"]
    assert "only 3 of the 5 stations needed were read there" in few[0]


def test_the_sources_and_cautions_stand_beside_it():
    """The code without a figure, the custom, the design fall, and four cautions."""
    words = assess(with_garage(1.0)).words
    text = " ".join(words.water)
    for part in (
        "IRC R309",
        "R317 in 2024",
        "names no figure",
        "1/8 in",
        "almost 2 in",
        "no defect",
    ):
        assert part in text
    cautions = " ".join(words.water_cautions)
    for part in ("fuel", "gas or electricity", "Springs", "local authority"):
        assert part in cautions
    assert assess(small_book()).words.water == ()
    assert assess(small_book()).words.water_cautions == ()


STATES = [
    (1.0, {"toward-the-door": "within", "eighth-per-foot": "beyond"}),
    (3.5, {"toward-the-door": "within", "eighth-per-foot": "within"}),
    (-0.5, {"toward-the-door": "beyond", "eighth-per-foot": "beyond"}),
    (0.0, {"toward-the-door": "too close to call", "eighth-per-foot": "beyond"}),
]


@pytest.mark.parametrize(("rise", "states"), STATES)
def test_rows_of_the_criteria(rise, states):
    """Falls are asked to reach their limit, by the 95 % interval."""
    found = {f.id: f for f in assess(with_garage(rise)).findings if f.kind == "drainage"}
    assert {key: f.state for key, f in found.items()} == states
    assert all(f.at_least and f.area == "garage" for f in found.values())


def test_a_drain_or_no_door_leaves_the_fall_unjudged():
    """With a floor drain the floor may slope there; without a door there is no fall to it."""
    for book, why in (
        (with_garage(1, marks=[("drain", [50, 10])]), "floor drain"),
        (with_garage(1, door=False), "no vehicle door"),
    ):
        found = [f for f in assess(book).findings if f.quantity == "garage fall"]
        assert {f.state for f in found} == {"not measured"}
        assert all(why in f.note for f in found)


def test_a_named_place_has_a_trail_of_its_own():
    """Water is followed from any place asked for, and a place elsewhere is refused."""
    book = with_garage(1.0)
    told = assess(book, water=[(50.0, 10.0)])
    (trail,) = assess_document(told)["garage"]["from"]
    assert trail["start"] == [50.0, 10.0]
    assert trail["end"] == "door"
    assert "from the place named (50, 10)" in " ".join(told.words.garages["garage"])
    with pytest.raises(UsageError, match="no garage floor"):
        assess(book, water=[(5.0, 5.0)])


def pair(name, near, far, **more):
    """Return one pair at the house's lower wall, 10 ft out, as written."""
    return {
        "id": name,
        "setup": "A",
        "at": [10, 0],
        "out": [10, -10],
        "near": near,
        "far": far,
        **more,
    }


GROUND = [
    (pair("a", "0", "-9.0"), "within"),
    (pair("b", "0", "-6.0"), "too close to call"),
    (pair("c", "0", "-3.0"), "beyond"),
    (pair("d", "0", "3.0"), "beyond"),
    (pair("e", "0", "-3.0", surface="paved"), "within"),
    (pair("f", "0", "-3.5", surface="swale"), "within"),
    (pair("g", "0", "-1.0", surface="paved"), "beyond"),
]


@pytest.mark.parametrize(("written", "state"), GROUND)
def test_the_ground_is_held_against_the_code(written, state):
    """6 in in the first 10 ft, 2 % for paving and swales: IRC R401.3, by the 95 % interval."""
    told = assess(with_garage(1, grades=[written]))
    (finding,) = (f for f in told.findings if f.quantity == "ground fall")
    assert finding.state == state
    assert finding.source == "IRC R401.3"
    assert f"At {written['id']}:" in finding.note


def test_what_is_said_of_the_ground():
    """The worst pairs come first, and ground that runs to the wall is named."""
    book = with_garage(1, grades=[GROUND[0][0], GROUND[3][0], pair("n", "0", "0.2")])
    told = assess(book).words.ground
    assert "3 places" in told[0]
    assert "At d, over 10 ft, it rises" in told[1]
    assert "water runs toward the house" in told[1]
    assert "too near level" in told[2]
    assert "At a, over 10 ft, it falls" in told[3]
    assert assess(with_garage(1)).words.ground == ()


RUNS = [
    (("3.0",), "runs down toward the house at the one place read: have it made"),
    (("3.0", "-9.0", "2.0"), "at 2 of the 3 places read"),
    (("3.0", "2.0"), "at each of the 2 places read"),
]


@pytest.mark.parametrize(("fars", "said"), RUNS)
def test_ground_that_runs_to_the_house_stands_beside_the_summary(fars, said):
    """Only where it surely does, with how often and what to do; it can be overruled."""
    pairs = [pair(f"p{k}", "0", far) for k, far in enumerate(fars)]
    words = assess(with_garage(1, grades=pairs)).words
    (alert,) = words.alerts
    assert said in alert
    assert words.sentences["alert.ground"] == alert
    unsure = [pair("n", "0", "0.2"), pair("m", "0", "-3.0")]
    assert assess(with_garage(1, grades=unsure)).words.alerts == ()


def test_many_pairs_are_cut_with_their_number():
    """Of more than twelve pairs the rest is counted."""
    many = [pair(f"p{k}", "0", f"-{6 + k / 10}") for k in range(14)]
    told = assess(with_garage(1, grades=many)).words.ground
    assert any(sentence.endswith("fall at least as much as those named: 2.") for sentence in told)


SHORT = [
    (("-3.0",), "in one place.", "The fall measured at the one place read is less"),
    (("-3.0", "-9.0"), "in 2 places;", "The fall measured at 1 of the 2 places read is less"),
    (("-3.0", "-2.0"), "in 2 places;", "The fall measured at each of the 2 places read is less"),
]


@pytest.mark.parametrize(("fars", "counted", "short"), SHORT)
def test_one_place_outside_is_not_told_as_several(fars, counted, short):
    """The number of places and the words for them agree."""
    pairs = [pair(f"p{k}", "0", far) for k, far in enumerate(fars)]
    told = assess(with_garage(1, grades=pairs)).words.ground
    assert counted in told[0]
    assert short in told[-1]


def test_what_the_code_asks_is_not_said_of_an_office_s_own_limit():
    """A limit of one's own on the ground may ask more than the code: the code is not named."""
    own = named_set("ground").model_copy(update={"id": "own"})
    book = with_garage(1, grades=[pair("p", "0", "-3.0")])
    told = assess(book, criteria=[own])
    assert [f.state for f in told.findings] == ["beyond"]
    assert "R401.3" not in " ".join(told.words.ground)


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        ((1.0, 1.0, 1.0), "at least 99 %"),
        ((0.0, 0.0, 0.0), "at most 1 %"),
        ((0.5, 0.301, 0.702), "50 % (between 30 and 71)"),
        ((1.0, 0.0, 1.0), "anything from none to all of it"),
        ((1.0, 0.23, 1.0), "at least 23 %"),
        ((0.3, 0.0, 0.62), "at most 62 %"),
    ],
)
def test_shares_are_never_told_too_sure(shares, said):
    """A share stands with its range, and leaves at least a percent open at either end."""
    assert percent(*shares) == said


def test_frequencies_are_never_told_too_sure():
    """All of the drawn floors are told as at least 98 of 100."""
    assert (often(1.0), often(0.0), often(0.5)) == ("at least 98", "at most 2", "about 50")


def test_ground_within_its_error_is_not_said_to_fall():
    """A fall or rise smaller than its give-or-take does not say which way water runs."""
    for far in ("-0.2", "0.2"):
        (_, told, *_) = assess(with_garage(1, grades=[pair("n", "0", far)])).words.ground
        assert "too near level to say which way" in told
