"""The result documents: every key of the format, and nothing but JSON."""

import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import rfc8785
from small_books import dome, plane, small_book

import levelbook
from levelbook.book import read_book
from levelbook.findings import Assessment, assess, assess_document, levels_document
from levelbook.findings.plain import plain, record

# The format of the results, as data: where, and the keys that must stand there.
HEADING = {"format", "program", "sha256"}
LEVELS = {"groups", "stations", "finishes", "setups", "fit", "closures", "residuals", "suspects"}
ASSESS = LEVELS | {"areas", "sections", "criteria", "screening"}
KEYS: dict[str, set[str]] = {
    "groups.0": {"id", "zero", "stations"},
    "stations.7": {"level", "sd", "group", "readings"},
    "finishes.oak": {"height", "sd", "group"},
    "setups.A": {"constant", "sd", "drift", "group"},
    "fit": {
        "readings",
        "unknowns",
        "dof",
        "variance_factor",
        "chi2",
        "chi2_low",
        "chi2_high",
        "ok",
    },
    "closures.0": {"station", "setup", "first", "last", "misclosure", "allowed"},
    "residuals.r1": {"residual", "redundancy", "w"},
    "areas.house": {"range", "tilt", "steepest", "deflection", "bend", "coverage"},
    "areas.house.range": {"value", "sd", "high", "low"},
    "areas.house.tilt": {"slope", "sd", "direction", "x", "y", "readings_slope"},
    "areas.house.steepest": {"slope", "sd", "from", "to", "distance"},
    "areas.house.deflection": {"line", "length", "deflection", "ratio", "sd", "shape"},
    "areas.house.bend": {"word", "curvatures"},
    "areas.house.coverage": {"largest_gap", "share_beyond", "missed_corners", "next"},
    "sections.front wall": {"length", "deflection", "ratio", "sd", "shape", "profile"},
    "criteria.0": {"id", "title", "quantity", "value", "sd", "limit", "state", "basis", "source"},
    "screening": {"outcome", "reasons", "cautions"},
}
SUSPECT = {
    "reading",
    "station",
    "value",
    "expected",
    "expected_sd",
    "kind",
    "suggestion",
    "odds",
    "why",
}


@pytest.fixture(scope="module")
def told(house_a: bytes) -> Assessment:
    """Return the assessment of the sample house."""
    return assess(read_book(house_a.decode()))


@pytest.fixture(scope="module")
def document(told: Assessment) -> Any:
    """Return its result document as JSON reads it back."""
    return json.loads(json.dumps(assess_document(told), allow_nan=False))


def test_the_shape_of_a_line_follows_its_sign(told: Assessment, document: Any) -> None:
    """Hog where the middle is high, sag where it is low; whether that is told stands apart."""
    lines = [w for area in document["areas"].values() for w in (*area["walls"], area["deflection"])]
    assert {line["shape"] for line in lines} == {"hog", "sag"}
    assert {line["resolved"] for line in lines} == {True, False}
    for line in [*lines, *document["sections"].values()]:
        assert (line["shape"] == "hog") == (line["deflection"] > 0)
        assert line["resolved"] == (abs(line["deflection"]) > 1.96 * line["sd"])
    wall = told.floor.areas["house"].walls[0]
    level = replace(told, floor=replace(told.floor, sections={"s": replace(wall, deflection=0.0)}))
    assert assess_document(level)["sections"]["s"]["shape"] is None


def at(document: Any, path: str) -> Any:
    """Return the part of a document at a path such as ``groups.0``."""
    for step in path.split("."):
        document = document[int(step)] if isinstance(document, list) else document[step]
    return document


@pytest.mark.parametrize("path", KEYS)
def test_every_part_has_its_keys(document: Any, path: str) -> None:
    """All keys of the format stand where they belong."""
    assert set(at(document, path)) >= KEYS[path]


def test_the_whole_has_its_keys(document: Any, told: Assessment) -> None:
    """Levels alone, and everything, with the heading of both."""
    assert set(document) >= HEADING | ASSESS
    levels = levels_document(told.book, told.levels, told.floor.suspects)
    assert set(levels) == HEADING | LEVELS
    assert all(levels[key] == assess_document(told)[key] for key in levels)


def test_the_heading_names_format_program_and_book(document: Any, house_a: bytes) -> None:
    """The SHA-256 is that of the canonical document, reckoned here by another way."""
    written = json.loads(house_a)
    whole = json.loads(json.dumps(written), parse_float=float)
    digest = hashlib.sha256(rfc8785.dumps(whole)).hexdigest()
    assert document["format"] == "levelbook/1"
    assert document["program"] == f"levelbook {levelbook.__version__}"
    assert document["sha256"] == digest


def numbers(value: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Yield every number of a document with its path."""
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield from numbers(each, f"{path}.{key}")
    elif isinstance(value, list):
        for i, each in enumerate(value):
            yield from numbers(each, f"{path}.{i}")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, float(value)


def test_numbers_are_finite_and_not_rounded(document: Any, told: Assessment) -> None:
    """Each number reads back to the last bit."""
    assert all(math.isfinite(number) for _, number in numbers(document))
    assert document["stations"]["7"]["level"] == told.levels.stations["7"].level
    house: Any = told.floor.areas["house"]
    assert document["areas"]["house"]["tilt"]["slope"] == house.tilt.slope
    assert document["areas"]["house"]["steepest"]["from"] == house.steepest.start


def test_lines_and_places_are_pairs(document: Any) -> None:
    """A line is [[x, y], [x, y]]; a place is [x, y]."""
    line = np.array(document["areas"]["house"]["deflection"]["line"])
    assert line.shape == (2, 2)
    assert len(document["areas"]["house"]["coverage"]["next"]) <= 5
    for place in document["areas"]["house"]["coverage"]["next"]:
        assert len(place["at"]) == 2


def test_profiles_run_along_the_section(document: Any) -> None:
    """The four columns of a profile have one length and start at the line's first end."""
    section = document["sections"]["front wall"]
    lengths = {len(section["profile"][c]) for c in ("distance", "level", "level_sd", "offset")}
    assert len(lengths) == 1
    assert section["profile"]["distance"][0] == 0
    assert section["profile"]["distance"][-1] == pytest.approx(section["length"])
    assert "distance" not in section


def test_covariance_on_request(told: Assessment) -> None:
    """The full matrix goes with its station ids, and only when asked for."""
    assert "covariance" not in assess_document(told)
    full: Any = assess_document(told, covariance=True)["covariance"]
    matrix = np.array(full["matrix"])
    assert full["stations"] == list(told.levels.ids)
    assert np.array_equal(matrix, told.levels.covariance())
    sds = [told.levels.stations[i].sd for i in told.levels.ids]
    assert np.sqrt(np.diag(matrix)) == pytest.approx(sds)


def test_a_suspect_has_its_keys() -> None:
    """A reading that looks like a slip is told with what was expected and why."""
    told = assess(small_book(readings={"r17": {"value": "3.0"}}))
    (suspect,) = assess_document(told)["suspects"]  # type: ignore[misc]
    assert set(suspect) == SUSPECT  # type: ignore[arg-type]


def test_an_area_with_too_few_stations() -> None:
    """It has two keys: how many were read and how many are needed."""
    strikes = {f"r{k}": {"struck": True} for k in range(3, 35)}
    told = assess(small_book(readings=strikes))
    assert assess_document(told)["areas"] == {"house": {"too_few": 3, "needs": 5}}


def test_what_is_not_there_is_null(told: Assessment) -> None:
    """No steepest slope, no deflection, no value: null, not a made-up number."""
    house: Any = told.floor.areas["house"]
    bare = replace(house, steepest=None, deflection=None, walls=())
    floor = replace(told.floor, areas={"house": bare})
    areas: Any = assess_document(replace(told, floor=floor))["areas"]
    assert areas["house"]["steepest"] is None
    assert areas["house"]["deflection"] is None
    new = assess(small_book(property={"year_built": 2026}))
    rows: Any = assess_document(new)["criteria"]
    (elevation,) = (row for row in rows if row["id"] == "aci-top-elevation")
    assert (elevation["value"], elevation["sd"]) == (None, None)


def test_the_version_may_be_given(told: Assessment) -> None:
    """A result names the program version it is told."""
    assert assess_document(told, version="9.9")["program"] == "levelbook 9.9"


PLAIN = [
    (float("nan"), None),
    (float("inf"), None),
    (np.float64("nan"), None),
    (np.float64(0.1), 0.1),
    (np.int64(3), 3),
    (np.bool_(True), True),
    (np.array([[1.0, np.nan]]), [[1.0, None]]),
    (("a", 1, None, True), ["a", 1, None, True]),
    ({"a": (1.5,)}, {"a": [1.5]}),
]


@pytest.mark.parametrize(("value", "as_json"), PLAIN)
def test_plain_values(value: object, as_json: object) -> None:
    """What is not finite becomes null; arrays and tuples become lists; kinds are kept."""
    told = plain(value)
    assert told == as_json
    assert type(told) is type(as_json)


@pytest.mark.parametrize("value", [object(), {1, 2}, b"bytes", Assessment])
def test_what_has_no_place_in_a_result(value: object) -> None:
    """Anything else is refused rather than guessed at."""
    with pytest.raises(TypeError, match="no place in a result document"):
        plain(value)
    with pytest.raises(TypeError):
        record(value)


@pytest.mark.parametrize("height", [plane(0.0075), dome(3.0)])
def test_the_same_book_gives_the_same_document(height: Any) -> None:
    """Nothing in a result depends on anything but the book."""
    book = small_book(height)
    first, second = (json.dumps(assess_document(assess(book))) for _ in range(2))
    assert first == second
