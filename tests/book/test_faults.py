"""Every fault a document can have, told with its code, its place and a remedy."""

import json
import math
from collections.abc import Mapping
from typing import Any

import pytest
from book_example import house, put

from levelbook.book import read_book
from levelbook.errors import DocumentError, Fault

SHA = "0123456789abcdef" * 4
BOW = [[0, 0], [38, 28], [38, 0], [0, 28]]
R = "readings.2."


def faults(document: object) -> tuple[Fault, ...]:
    """Return the faults of a document."""
    with pytest.raises(DocumentError) as caught:
        read_book(json.dumps(document))
    return caught.value.faults


# changes (path: new value, ... removes) | code | place | words in the message
FORM: list[tuple[Mapping[str, Any], str, str, str]] = [
    ({"format": ...}, "missing-key", "format", "add the key 'format'"),
    ({"format": "levelbook/2"}, "format", "format", "'levelbook/2' is not 'levelbook/1'"),
    ({"units": ...}, "missing-key", "units", "is missing"),
    ({"unit": 1}, "unknown-key", "unit", "nearest key 'units'"),
    ({"nonsense": 1}, "unknown-key", "nonsense", "keep it under 'extra'"),
    ({R + "valeu": "1"}, "unknown-key", "readings[2].valeu", "nearest key 'value'"),
    (
        {"instruments.0.checks.0.reed": "1"},
        "unknown-key",
        "instruments[0].checks[0].reed",
        "'read'",
    ),
    ({"units.level": "cm"}, "choice", "units.level", "write 'in' or 'mm'"),
    ({"units.level": 3}, "choice", "units.level", "3 is not known"),
    ({"property": []}, "wrong-type", "property", "is a list, not an object"),
    ({"property.label": None}, "wrong-type", "property.label", "is null, not a text"),
    ({"property.label": "a\u0007"}, "text", "property.label", r"'a\x07' holds control"),
    ({"property.label": "a" * 1001}, "text", "property.label", "1,001 characters"),
    ({"property.notes": "a" * 20_001}, "text", "property.notes", "shorten it to 20,000"),
    ({"property.year_built": 2011.5}, "wrong-type", "property.year_built", "whole number"),
    ({"property.year_built": "2011"}, "wrong-type", "property.year_built", "'2011' is a text"),
    ({"property.year_built": True}, "wrong-type", "property.year_built", "is true"),
    ({"property.post_tensioned": 1}, "wrong-type", "property.post_tensioned", "true or false"),
    ({"property.north": "n"}, "wrong-type", "property.north", "not a number"),
    ({"marks": {}}, "wrong-type", "marks", "is an object, not a list"),
    ({"marks.1": 5}, "wrong-type", "marks[1]", "5 is a number, not an object"),
    ({"stations.1.at": [1]}, "corner", "stations[1].at", "[x, y]"),
    ({"stations.1.at": [1, 2, 3]}, "corner", "stations[1].at", "more than 2"),
    ({"stations.1.at": [1, "2"]}, "wrong-type", "stations[1].at[1]", "without quotes"),
    ({"stations.1.at": [1, 2e6]}, "range", "stations[1].at[1]", "at or below 1,000,000"),
    ({"stations.1.at": [-2e6, 1]}, "range", "stations[1].at[0]", "at or above -1,000,000"),
    ({"stations.1.at": [1, 10**400]}, "number", "stations[1].at[1]", "not finite"),
    ({"stations.1.at": [1, math.nan]}, "number", "stations[1].at[1]", "not finite"),
    ({"sections.0.id": ""}, "text", "sections[0].id", "at least 1 character"),
    ({"sections.0.id": "a" * 65}, "text", "sections[0].id", "shorten it to 64"),
    ({"sections.0.id": "a\nb"}, "text", "sections[0].id", "control characters"),
    ({"instruments.0.sd": -0.1}, "range", "instruments[0].sd", "at or above 0"),
    ({R + "setup": ...}, "missing-key", "readings[2].setup", "add the key 'setup'"),
    ({R + "struck": "yes"}, "wrong-type", "readings[2].struck", "not true or false"),
    ({R + "value": True}, "wrong-type", "readings[2].value", "is true, not a text"),
    ({R + "value": ""}, "value", "readings[2].value", "not a number as readings are"),
    ({R + "value": "5 in"}, "value", "readings[2].value", "'5 in'"),
    ({R + "value": "0,5"}, "value", "readings[2].value", "decimal or a fraction"),
    ({R + "value": "1/0"}, "value", "readings[2].value", "'1/0'"),
    ({R + "value": "1 9/8"}, "value", "readings[2].value", "'1 9/8'"),
    ({R + "value": "inf"}, "value", "readings[2].value", "'inf'"),
    ({R + "value": "1e3"}, "value", "readings[2].value", "'1e3'"),
    ({R + "value": 1e300}, "text", "readings[2].value", "301 characters"),
    ({R + "value": 1e-40}, "value", "readings[2].value", "as readings are written"),
    ({R + "value": 2_000_000}, "value", "readings[2].value", "slipped decimal point"),
    ({R + "value": -math.inf}, "number", "readings[2].value", "not finite"),
    ({"extra": 5}, "wrong-type", "extra", "not an object"),
    ({"extra": {"a": [10**17]}}, "number", "extra.a[0]", "more digits than can be kept"),
    ({"extra": {"a": "\ud800"}}, "text", "extra.a", "half a character"),
    ({"extra": {"\ud800": 1}}, "text", "extra", "half a character"),
]

MEANING: list[tuple[Mapping[str, Any], str, str, str]] = [
    ({"readings.3.id": "r1"}, "id-twice", "readings[3].id", "'r1' stands already at readings[0]"),
    (
        {"setups.0.instrument": "L7"},
        "reference",
        "setups[0].instrument",
        "no instrument 'L7'; near",
    ),
    ({"stations.9.area": "hous"}, "reference", "stations[9].area", "nearest id 'house'"),
    ({R + "setup": "q"}, "reference", "readings[2].setup", "name one of the 2"),
    (
        {R + "station": "t44"},
        "reference",
        "readings[2].station",
        "no station 't44'; nearest id 't4'",
    ),
    ({R + "finish": "Oak"}, "reference", "readings[2].finish", "no finish 'Oak'; nearest id 'oak'"),
    ({"reference.station": "cc"}, "reference", "reference.station", "no station 'cc'"),
    ({"reference.finish": "tiles"}, "reference", "reference.finish", "nearest id 'tile'"),
    (
        {"reference.finish": "slate", "finishes.4": {"id": "slate", "name": "Slate"}},
        "reference",
        "reference.finish",
        "write 'tile', on which station 'c' was read",
    ),
    ({"distress.0.photo": "p1"}, "reference", "distress[0].photo", "no photo 'p1'"),
    ({"visit.date": "2 March 2026"}, "date", "visit.date", "as 2026-03-02"),
    ({"visit.date": "2026-02-30"}, "date", "visit.date", "'2026-02-30' is not a date"),
    ({"visit.date": "0026-02-03"}, "date", "visit.date", "1900 to 2200"),
    ({"visit.date": "20260302"}, "date", "visit.date", "'20260302'"),
    ({"instruments.0.checks.0.date": ""}, "date", "instruments[0].checks[0].date", "not a date"),
    ({"property.north": 361}, "range", "property.north", "full turn"),
    ({"property.year_built": 11}, "range", "property.year_built", "four digits"),
    (
        {"instruments.0.sd": 0, "instruments.0.resolution": 0},
        "instrument",
        "instruments[0]",
        "both 0",
    ),
    ({"instruments.0.sd": 1e-200}, "range", "instruments[0].sd", "too small"),
    ({"instruments.0.reach": 0}, "range", "instruments[0].reach", "reaches nothing"),
    ({"sections.0.line": [[1, 1], [1, 1]]}, "line", "sections[0].line", "no length"),
    ({"walls": [[[1, 1]]]}, "line", "walls[0]", "two points"),
    ({"distress.0.line": []}, "line", "distress[0].line", "no length"),
    ({"distress.0.at": ...}, "distress", "distress[0]", "has no place"),
    ({"distress.0.width": "-1/8"}, "range", "distress[0].width", "below zero"),
    ({"photos": [{"id": "1", "sha256": "ff", "name": "a"}]}, "photo", "photos[0].sha256", "64"),
    ({R + "time": "noon"}, "time", "readings[2].time", "'noon' is not a time"),
    ({R + "time": "2026-03-02"}, "time", "readings[2].time", "as 2026-03-02T10:15"),
    ({R + "time": "2026-03-02x10:15"}, "time", "readings[2].time", "is not a time"),
    ({R + "time": "2026-03-02T1015"}, "time", "readings[2].time", "is not a time"),
    ({R + "time": "2026-13-02T10:15"}, "time", "readings[2].time", "is not a time"),
    ({R + "time": "1015"}, "time", "readings[2].time", "is not a time"),
    ({R + "time": "0001-01-01T10:15"}, "time", "readings[2].time", "is not a time"),
    ({R + "time": "10:15", "readings.3.time": "10:20Z"}, "time-zone", "readings[3].time", "a zone"),
    (
        {R + "time": "10:15Z", "readings.3.time": "10:20"},
        "time-zone",
        "readings[3].time",
        "no zone",
    ),
    ({"readings.33.instead": "r1"}, "instead", "readings[33].instead", 'write "struck": true'),
    ({R + "struck": True, R + "instead": "r3"}, "instead", "readings[2].instead", "itself"),
    ({R + "struck": True, R + "instead": "r5"}, "instead", "readings[2].instead", "at station '4'"),
    ({R + "struck": True, R + "instead": "x9"}, "reference", "readings[2].instead", "no reading"),
    ({"areas.0.outline": [[0, 0], [38, 0]]}, "outline", "areas[0].outline", "at least 3"),
    ({"areas.0.outline": []}, "outline", "areas[0].outline", "0 corners"),
    ({"areas.0.outline": BOW}, "outline", "areas[0].outline", "touches itself near (19, 14)"),
    ({"areas.0.outline": [[0, 0], [1, 1], [2, 2]]}, "outline", "areas[0].outline", "no area"),
    ({"areas.0.outline.4": [0, 0]}, "outline", "areas[0].outline[4]", "first again"),
    ({"areas.0.outline.4": [38, 0]}, "outline", "areas[0].outline[4]", "same as corner [1]"),
    ({"areas.0.holes": [[[-1, 1], [3, 1], [3, 3]]]}, "hole", "areas[0].holes[0]", "wholly inside"),
    ({"areas.0.holes": [[[2, 2], [3, 3]]]}, "outline", "areas[0].holes[0]", "at least 3"),
    ({"areas.1.kind": "porch"}, "door", "areas[1].vehicle_door", "only a garage"),
    ({"areas.1.vehicle_door": [[41, 21], [41, 21]]}, "door", "areas[1].vehicle_door", "no width"),
    ({"areas.1.vehicle_door": [[41, 23], [57, 21]]}, "door", "areas[1].vehicle_door", "2 ft off"),
    ({"areas.1.vehicle_door": [[39, 0], [59, 21]]}, "door", "areas[1].vehicle_door", "off the"),
    ({"stations.1.at": [-1.5, 0]}, "outside", "stations[1].at", "1.5 ft outside area 'house'"),
    ({"stations.1.at": [45, 5]}, "outside", "stations[1].at", "it lies in area 'garage'"),
    ({"stations.1.at": [-9, 5]}, "outside", "stations[1].at", "mend the place or the area"),
]


@pytest.mark.parametrize(("changes", "code", "place", "words"), FORM + MEANING)
def test_fault(changes: Mapping[str, Any], code: str, place: str, words: str) -> None:
    """One thing wrong is told once, with its code, its place and what to do."""
    document = house()
    for path, value in changes.items():
        put(document, path, value)
    told = faults(document)
    assert [(fault.code, fault.place) for fault in told] == [(code, place)]
    assert words in str(told[0])
    assert told[0].remedy


@pytest.mark.parametrize("name", ["../a.jpg", "/etc/a.jpg", "c:\\a.jpg", "\\a.jpg", "", "a/../b"])
def test_photo_name_stays_beside_the_document(name: str) -> None:
    """A name that leads out of the document's folder is refused, a folder below it is not."""
    photo = {"id": "1", "sha256": SHA, "name": name}
    assert [fault.place for fault in faults({**house(), "photos": [photo]})] == ["photos[0].name"]
    photo["name"] = "photos/a.jpg"
    assert read_book(json.dumps({**house(), "photos": [photo]})).photos[0].name == "photos/a.jpg"


def test_reference_needs_a_reading_that_stands() -> None:
    """Where all readings at the reference are struck, nothing holds the zero."""
    document = house()
    for index in (0, 33):
        document["readings"][index]["struck"] = True
    told = faults(document)
    assert [(fault.code, fault.place) for fault in told] == [("reference", "reference.station")]


def test_a_reference_finish_may_be_read_elsewhere() -> None:
    """Heights may be told above any finish that was read, not only the one at the reference."""
    book = read_book(json.dumps(put(house(), "reference.finish", "oak")))
    assert book.reference.finish == "oak"


def test_reference_is_left_alone_where_readings_are_bad() -> None:
    """A reading that cannot be read may be the one at the reference: no second fault."""
    document = put(house(), "readings.33.value", "x")
    document["readings"][0]["struck"] = True
    assert [fault.place for fault in faults(document)] == ["readings[33].value"]


def test_replacements_in_a_circle_are_told_once() -> None:
    """Three readings that replace each other make one fault, whatever leads into the circle."""
    document = house()
    first = document["readings"][2]
    for name, instead in (("a", "b"), ("b", "c"), ("c", "a"), ("d", "a")):
        document["readings"].append({**first, "id": name, "struck": True, "instead": instead})
    told = faults(document)
    assert [(fault.code, fault.place) for fault in told] == [("instead", "readings[43].instead")]
    assert "circle" in told[0].problem


def test_replaced_reading_is_kept() -> None:
    """A struck reading and the one instead of it, itself replaced, are a good document."""
    document = house()
    first = document["readings"][2]
    first |= {"struck": True, "instead": "a"}
    document["readings"].append({**first, "id": "a", "instead": "b"})
    document["readings"].append({**first, "id": "b", "struck": False})
    del document["readings"][-1]["instead"]
    book = read_book(json.dumps(document))
    assert [one.instead for one in book.readings if one.struck] == ["a", "b"]


def test_holes_that_overlap_are_told() -> None:
    """Two holes may touch in a point but not share floor."""
    document = house()
    document["areas"][0]["holes"] = [
        [[2, 2], [6, 2], [6, 6], [2, 6]],
        [[6, 6], [8, 6], [8, 8], [6, 8]],
    ]
    read_book(json.dumps(document))
    document["areas"][0]["holes"][1][0] = [5, 5]
    assert [fault.place for fault in faults(document)] == ["areas[0].holes"]


def test_bad_area_says_nothing_about_its_stations() -> None:
    """Stations are not called outside of an outline that is itself wrong."""
    document = put(house(), "areas.0.outline", BOW)
    assert {fault.place for fault in faults(document)} == {"areas[0].outline"}


def test_vehicle_door_of_a_bad_area_that_is_no_garage() -> None:
    """The door is told as well where the outline is wrong."""
    document = put(house(), "areas.0.outline", BOW)
    document["areas"][0]["vehicle_door"] = [[0, 0], [1, 0]]
    places = [fault.place for fault in faults(document)]
    assert places == ["areas[0].outline", "areas[0].vehicle_door"]


@pytest.mark.parametrize(
    "time", ["10:15", "10:15:30Z", "2026-03-02T10:15", "2026-03-02 10:15:30.5+01:00"]
)
def test_times_that_are_taken(time: str) -> None:
    """Day and time, or the time alone, with or without a zone."""
    assert read_book(json.dumps(put(house(), R + "time", time))).readings[2].time == time


def test_walls_are_thick() -> None:
    """A station up to 1 ft outside its outline, or into a hole, belongs to its area."""
    document = put(house(), "stations.1.at", [-0.7, -0.7])
    document["areas"][0]["holes"] = [[[18.1, 13], [20, 13], [20, 15], [18.1, 15]]]
    read_book(json.dumps(document))
    document["units"]["plan"] = "m"
    assert {fault.place for fault in faults(document)} == {"stations[0].at", "stations[1].at"}


def test_faults_of_form_and_of_meaning_come_together() -> None:
    """One unreadable entry hides nothing that is wrong elsewhere."""
    document = house()
    put(document, "readings.3.value", "x")
    put(document, "areas.0.outline", BOW)
    put(document, "units.plan", "yd")
    put(document, "readings.14.station", "t7")
    put(document, "sections", 5)
    put(document, "visit.date", "today")
    places = {fault.place for fault in faults(document)}
    assert places == {
        "readings[3].value",
        "areas[0].outline",
        "units.plan",
        "readings[14].station",
        "sections",
        "visit.date",
    }


def test_references_into_a_missing_list_are_not_told() -> None:
    """Where the stations are missing altogether, that is said once and not at each reading."""
    assert [fault.place for fault in faults(put(house(), "stations", ...))] == ["stations"]
    assert [fault.place for fault in faults(put(house(), "stations", None))] == ["stations"]


def test_references_into_an_empty_list_are_told() -> None:
    """An empty list has nothing to refer to."""
    told = faults(put(house(), "finishes", []))
    assert {fault.code for fault in told} == {"reference"}
    assert told[0].remedy == "add it"


def test_a_bad_entry_can_still_be_referred_to() -> None:
    """A station with a bad place is one fault, not one for each of its readings."""
    told = faults(put(house(), "stations.0.at", "here"))
    assert [fault.place for fault in told] == ["stations[0].at"]


def test_many_faults_are_counted() -> None:
    """The first two hundred faults are told; the last entry says how many more there are."""
    document = house()
    document["marks"] = [{"kind": 1, "at": 2}] * 150
    document["walls"] = [5] * 100
    told = faults(document)
    assert len(told) == 201
    assert told[-1].code == "more-faults"
    assert "and 200 more" in told[-1].problem


def test_many_faults_of_meaning_are_counted() -> None:
    """The count goes on where wording stops."""
    document = house()
    document["stations"] += [
        {"id": f"s{i}", "at": [900, 900], "area": "house", "note": "outside"} for i in range(250)
    ]
    document["readings"] += [
        {**document["readings"][0], "id": f"x{i}", "setup": "Z"} for i in range(9)
    ]
    assert "and 59 more" in faults(document)[-1].problem


def test_a_key_twice_is_told_beside_other_faults() -> None:
    """The text's own faults and those of form come together."""
    text = json.dumps(put(house(), "units.plan", "yd"))
    text = text.replace('"date":', '"date": "2020-01-01", "date":', 1)
    with pytest.raises(DocumentError) as caught:
        read_book(text)
    assert [(f.code, f.place) for f in caught.value.faults] == [
        ("key-twice", "visit"),
        ("choice", "units.plan"),
    ]


def test_a_byte_order_mark_is_taken() -> None:
    """A UTF-8 mark at the start changes nothing, in bytes or in text."""
    text = json.dumps(house())
    plain = read_book(text)
    assert read_book(b"\xef\xbb\xbf" + text.encode()) == plain
    assert read_book("\ufeff" + text) == plain


def test_whole_pairs_of_surrogates_are_one_character() -> None:
    """An escaped pair is an ordinary character and stays so."""
    text = json.dumps(put(house(), "property.label", "house 🏠"))
    assert "\\ud83c" in text
    assert read_book(text).property.label == "house 🏠"


def test_nothing_but_the_format_stops_at_the_start() -> None:
    """A text that breaks off tells the line and column."""
    with pytest.raises(DocumentError, match=r"line 2, column 1 \(at the end\)"):
        read_book('{"format":\n')
    with pytest.raises(DocumentError, match="at '}'"):
        read_book('{"format":}')
