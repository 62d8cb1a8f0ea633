"""What a careful colleague would say, and what he would not."""

import json
from collections.abc import Mapping
from typing import Any

import pytest
from book_example import house, put

from levelbook.book import Notice, notices, read_book


def remarks(document: object) -> tuple[Notice, ...]:
    """Return the notices of a document."""
    return notices(read_book(json.dumps(document)))


def codes(document: object) -> list[tuple[str, str]]:
    """Return code and place of the notices of a document."""
    return [(one.code, one.place) for one in remarks(document)]


def new(document: object) -> list[Notice]:
    """Return the notices of a document that the example does not have."""
    known = {str(one) for one in remarks(house())}
    return [one for one in remarks(document) if str(one) not in known]


def without(document: dict[str, Any], *stations: str) -> dict[str, Any]:
    """Return the document without the readings at some stations, and without these."""
    for key, name in (("readings", "station"), ("stations", "id"), ("distress", "id")):
        document[key] = [one for one in document[key] if one[name] not in stations]
    return document


def test_the_example() -> None:
    """The example has no closing check and no tie in the garage, and is else well read."""
    assert codes(house()) == [("no-closing-check", "setups[1]"), ("own-zero", "areas[1]")]


def test_a_small_setup_needs_no_closing_check() -> None:
    """Five readings are read again sooner than checked."""
    document = without(house(), "g2", "g3", "g4", "g6")
    assert "no-closing-check" not in dict(codes(document))


def test_a_closing_check_is_on_the_same_finish() -> None:
    """The same station on another finish is a pair, not a closing check."""
    document = put(house(), "readings.33.finish", "oak")
    assert ("no-closing-check", "setups[0]") in codes(document)


CHANGES: list[tuple[Mapping[str, Any], str, str, str]] = [
    ({"instruments.0.checks.0.read": "6 1/8"}, "check-off", "instruments[0].checks[0]", "6 1/8 in"),
    (
        {"instruments.0.reach": 19},
        "beyond-reach",
        "setups[0].base",
        "stations '1', '7', '8', '10', '11' and 3 more are",
    ),
    ({"readings.5.value": "-0.55"}, "off-step", "instruments[0].resolution", "reading 'r6' lies"),
    ({"areas.1.vehicle_door": ...}, "no-vehicle-door", "areas[1]", "'garage'"),
    ({"stations.5.at": [14, 0.5]}, "same-place", "stations[5].at", "'3' and '5'"),
    ({"finishes.4": {"id": "x", "name": "cork"}}, "unused", "finishes[4]", "Finish 'x'"),
    ({"setups.2": {"id": "B", "instrument": "L1"}}, "unused", "setups[2]", "Setup 'B'"),
    ({"readings.21.struck": True}, "unused", "stations[21]", "Station '21'"),
    ({"readings.21.struck": True}, "struck-alone", "readings[21]", "'r22'"),
]


@pytest.mark.parametrize(("changes", "code", "place", "words"), CHANGES)
def test_notice(changes: Mapping[str, Any], code: str, place: str, words: str) -> None:
    """One thing to remark upon is remarked upon, naming what it is."""
    document = house()
    for path, value in changes.items():
        put(document, path, value)
    told = [one for one in new(document) if (one.code, one.place) == (code, place)]
    assert len(told) == 1
    assert words in told[0].sentence


def test_an_instrument_without_setup() -> None:
    """An instrument that no setup names is remarked upon."""
    document = house()
    document["instruments"].append({**document["instruments"][0], "id": "L2"})
    assert codes(document)[-1] == ("unused", "instruments[1]")


def test_unused_things_are_told_together() -> None:
    """Two finishes that nothing was read on make one remark."""
    document = house()
    document["finishes"] += [{"id": "x", "name": "cork"}, {"id": "y", "name": "slate"}]
    told = remarks(document)[-1]
    assert told.place == "finishes[4]"
    assert told.sentence == "Finishes 'x', 'y' are without a reading that stands."


@pytest.mark.parametrize(
    ("sense", "known", "read", "off"),
    [
        ("more", "6.0", "6.1", False),
        ("more", "6.0", "6.11", True),
        ("more", "6.0", "-6.0", True),
        ("less", "6.0", "-6.0", False),
        ("less", "6.0", "-5.8", True),
    ],
)
def test_check_of_an_instrument(sense: str, known: str, read: str, off: bool) -> None:
    """A check may be off by the resolution, exactly; a rod may be told with either sign."""
    document = put(house(), "instruments.0.higher_reads", sense)
    check = {"date": "2026-03-02", "known": known, "read": read}
    document = put(document, "instruments.0.checks", [check])
    assert ("check-off" in dict(codes(document))) is off


def test_steps_are_told_exactly() -> None:
    """Sixteenths are steps of 0.0625 in; without a resolution there are no steps."""
    document = put(house(), "instruments.0.resolution", 0.0625)
    for one in document["readings"]:
        one["value"] = "-1 3/16"
    assert "off-step" not in dict(codes(document))
    document["readings"][0]["value"] = "1/10"
    assert "off-step" in dict(codes(document))
    document["instruments"][0]["resolution"] = 0
    assert "off-step" not in dict(codes(document))


def test_a_struck_reading_with_another_in_its_place() -> None:
    """Named by ``instead`` or simply read again: nothing is missing."""
    document = house()
    document["readings"][21]["struck"] = True
    document["readings"].append({**document["readings"][21], "id": "r44", "struck": False})
    assert "struck-alone" not in dict(codes(document))
    document["readings"][21]["instead"] = "r44"
    assert "struck-alone" not in dict(codes(document))


def unpaired(document: dict[str, Any], finish: str) -> dict[str, Any]:
    """Return the document without the pairs of one finish."""
    pairs = {"t1", "t2", "t3", "t4"}
    document["readings"] = [
        one
        for one in document["readings"]
        if one["finish"] != finish or one["station"] not in pairs
    ]
    return document


def test_a_finish_without_a_pair() -> None:
    """Carpet that is never read beside another finish stands apart from the rest."""
    told = new(unpaired(house(), "carpet"))
    assert [(one.code, one.place) for one in told] == [("unpaired-finish", "areas[0]")]
    assert "finish 'carpet'" in told[0].sentence


def test_a_setup_without_a_tie() -> None:
    """A second setup in the same area is tied by what both have read."""
    document = put(house(), "setups.2", {"id": "B", "instrument": "L1"})
    for one in document["readings"][9:14]:
        one["setup"] = "B"
    told = [one for one in new(document) if one.code == "untied-setup"]
    assert [one.place for one in told] == ["areas[0]"]
    assert "setup 'B'" in told[0].sentence
    first = document["readings"][9]
    document["readings"].append({**first, "id": "tie", "setup": "A"})
    assert "untied-setup" not in dict(codes(document))


def test_finishes_paired_in_another_setup() -> None:
    """What one setup knows of two finishes holds for another that reads both."""
    document = put(house(), "setups.2", {"id": "B", "instrument": "L1"})
    for k, one in enumerate(document["readings"][7:13]):
        one["setup"] = "B"
        one["finish"] = "carpet" if k % 2 else "tile"
    document["readings"].append({**document["readings"][7], "id": "tie", "setup": "A"})
    assert "untied-setup" not in dict(codes(document))
    assert "unpaired-finish" not in dict(codes(document))


def test_a_garage_tied_by_its_step() -> None:
    """A station of the house read from the garage's setup joins the two."""
    document = house()
    tie = {"id": "tie", "setup": "G", "station": "c", "finish": "tile", "value": "4.0"}
    document["readings"].append(tie)
    assert "own-zero" in dict(codes(document))  # the step between tile and concrete is not known
    pair = {"id": "pair", "setup": "G", "station": "g1", "finish": "tile", "value": "0.4"}
    document["readings"].append(pair)
    assert "own-zero" not in dict(codes(document))


def test_two_doubly_read_finishes_join_setups() -> None:
    """Setups known to differ by so much on one finish do so on the other."""
    document = house()
    document["setups"].append({"id": "B", "instrument": "L1"})
    document["readings"][9]["setup"] = "B"
    document["readings"].append({**document["readings"][4], "id": "x", "setup": "B"})
    assert "untied-setup" not in dict(codes(document))


def test_a_gap_along_the_wall() -> None:
    """Where two neighbours along a wall are more than 10 ft apart, the longest is told."""
    told = new(without(house(), "3"))
    assert [one.code for one in told] == ["wall-gap"]
    assert "between stations '2' and '4', 13 ft" in told[0].sentence
    told = new(without(house(), "3", "19"))
    assert "'18' and '20', 14 ft (2 such stretches; this is the longest)" in told[0].sentence


def test_the_wall_is_followed_all_the_way_round() -> None:
    """The stretch from the last station round to the first counts too."""
    told = new(without(house(), "1", "20"))
    words = next(one.sentence for one in told if one.code == "wall-gap")
    assert "'19' and '2'" in words


def test_walls_hardly_read() -> None:
    """With all readings in the middle the walls are called unread."""
    document = house()
    for one in document["stations"]:
        if one["area"] == "garage":
            one["at"] = [49, 10]
    told = [one for one in new(document) if one.place == "areas[1]"]
    assert {one.code for one in told} == {"wall-gap", "floor-gap", "missed-corner"}
    assert "Hardly a reading" in next(one.sentence for one in told if one.code == "wall-gap")


def test_a_gap_inside() -> None:
    """The place farthest from any reading is told, in plan units."""
    inner = ["c", "21", "22", "23", "24", "t1", "t2", "t3", "t4"]
    document = put(without(house(), *inner), "reference", {"station": "1"})
    told = [one for one in new(document) if one.code == "floor-gap"]
    assert len(told) == 1
    assert "13.5 ft from the nearest reading" in told[0].sentence


def test_missed_corners() -> None:
    """A corner without a reading within 4 ft is named by its place."""
    told = new(without(house(), "7"))
    assert [one.code for one in told] == ["wall-gap", "missed-corner"]
    assert "its corner (38, 0)" in told[1].sentence
    told = [one for one in new(without(house(), "7", "17")) if one.code == "missed-corner"]
    assert "its 2 corners (38, 0), (0, 28)" in told[0].sentence


def test_jogs_are_no_corners() -> None:
    """A chase of a foot in the wall, or a corner on a straight wall, asks for no reading."""
    document = house()
    jog = [[0, 0], [10.5, 0], [10.5, 1], [11.5, 1], [11.5, 0], [24, 0], [38, 0], [38, 28], [0, 28]]
    assert not [one for one in new(put(document, "areas.0.outline", jog)) if "corner" in one.code]


def test_an_area_without_reading() -> None:
    """An area in which nothing was read is said to be so, and nothing else about it."""
    document = house()
    ring = [[60, 0], [70, 0], [70, 9], [60, 9]]
    document["areas"].append({"id": "porch", "kind": "porch", "outline": ring})
    assert [(one.code, one.place) for one in new(document)] == [("area-unread", "areas[2]")]


def test_metres() -> None:
    """Lengths asked for are round in metres too."""
    document = without(house(), "3")
    document["units"]["plan"] = "m"
    told = {one.code: str(one) for one in remarks(document)}
    assert "within 1.2 m" in told["missed-corner"]
    assert "10 m (8 such" in told["wall-gap"]
    assert "best 3 m apart" in told["wall-gap"]


def test_remarks_are_short_and_calm() -> None:
    """No remark shouts, and none is longer than two lines."""
    document = without(house(), "3", "7", "t1")
    document["readings"][0]["value"] = "0.05"
    told = remarks(document)
    assert len(told) > 4
    for one in told:
        assert len(str(one)) < 240
        assert "!" not in str(one)
        assert str(one) == f"{one.sentence} {one.remedy}"
