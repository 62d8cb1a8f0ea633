"""A user's own criteria: what is read, and how each fault is told."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from levelbook.errors import DocumentError
from levelbook.findings import builtin_sets, load_criteria
from levelbook.findings.criteria import CriteriaSet

OWN = """
id = "own"
title = "Our own rule"
edition = "house rule of an invented firm, 2026"
applies_when = "always"
note = "An example."

[[criteria]]
id = "half-inch"
title = "Half an inch in ten feet"
quantity = "raw slope"
limit = "1/240"
unit = "ratio"
basis = "common practice"
source = "our own"
kind = "movement"
min_apart = "10 ft"
note = "An example."
"""


def test_own_file_in_toml() -> None:
    """A limit may be a fraction in quotes, a distance carries its unit."""
    (row,) = load_criteria(OWN, "own.toml").criteria
    assert row.limit == 1 / 240
    assert row.min_apart is not None
    assert row.min_apart.to("in") == pytest.approx(120.0)
    assert row.applies.areas == ("living", "addition", "other")


@pytest.mark.parametrize("held", builtin_sets(), ids=lambda s: s.id)
def test_every_set_reads_back_from_json(held: CriteriaSet) -> None:
    """What is written out as JSON reads back as the same set."""
    assert load_criteria(json.dumps(held.model_dump(mode="json")), "own.json") == held


# Text to replace in the file above, by what; the place named; part of what is said.
FAULTS = [
    ('limit = "1/240"', "limit = nan", "own.toml.criteria[0].limit", "finite"),
    ('limit = "1/240"', "limit = inf", "own.toml.criteria[0].limit", "finite"),
    ('limit = "1/240"', "limit = 0", "own.toml.criteria[0].limit", "greater than 0"),
    ('limit = "1/240"', "limit = -1", "own.toml.criteria[0].limit", "greater than 0"),
    ('limit = "1/240"', "limit = 1e300", "own.toml.criteria[0].limit", "less than or equal"),
    ('limit = "1/240"', "limit = true", "own.toml.criteria[0].limit", "not true or false"),
    ('limit = "1/240"', 'limit = "1/0"', "own.toml.criteria[0].limit", "not a number"),
    ('limit = "1/240"', "limit = [1]", "own.toml.criteria[0].limit", "number"),
    (
        'limit = "1/240"',
        'limit = "1/240"\nat_least = true',
        "own.toml.criteria[0]",
        "at_least belongs",
    ),
    ('unit = "ratio"', 'unit = "mm"', "own.toml.criteria[0]", "raw slope is not given in 'mm'"),
    ('quantity = "raw slope"', 'quantity = "slope"', "own.toml.criteria[0].quantity", "'tilt'"),
    ('basis = "common practice"', 'basis = "known"', "own.toml.criteria[0].basis", "published"),
    ('kind = "movement"', 'kind = "rule"', "own.toml.criteria[0].kind", "tolerance"),
    ('source = "our own"', 'source = ""', "own.toml.criteria[0].source", "at least 1"),
    ('source = "our own"\n', "", "own.toml.criteria[0].source", "add this key"),
    ('min_apart = "10 ft"', 'min_apart = "10"', "own.toml.criteria[0].min_apart", '"10 ft"'),
    ('min_apart = "10 ft"', 'min_apart = "-1 m"', "own.toml.criteria[0].min_apart.value", "zero"),
    ('min_apart = "10 ft"\n', "", "own.toml.criteria[0]", "min_apart belongs"),
    ('quantity = "raw slope"', 'quantity = "tilt"', "own.toml.criteria[0]", "min_apart belongs"),
    ('id = "half-inch"', 'id = "Half Inch"', "own.toml.criteria[0].id", "ids take a-z"),
    ('note = "An example."\n\n', 'note = "a\\u0007b"\n\n', "own.toml.note", "one line"),
    ('id = "own"', 'id = "own"\nextra = 1', "own.toml.extra", "remove this key"),
    ('id = "own"', 'id = "own"\nid = "own"', "own.toml", "not readable"),
    ('id = "own"', "id = ", "own.toml", "not readable"),
    ('kind = "movement"', 'kind = "movement"\nsteps = [1, 2]', "own.toml.criteria[0]", "steps"),
    ('min_apart = "10 ft"', "min_apart = 10", "own.toml.criteria[0].min_apart", "Length"),
    (
        'quantity = "raw slope"\nlimit = "1/240"\nunit = "ratio"',
        'quantity = "crack width"\nlimit = 1\nunit = "mm"\nsteps = [1, 5, 5]',
        "own.toml.criteria[0]",
        "min_apart belongs",
    ),
    (
        'kind = "movement"',
        'kind = "movement"\napplies = {areas = ["attic"]}',
        "own.toml.criteria[0].applies.areas[0]",
        "garage",
    ),
]


@pytest.mark.parametrize(("old", "new", "place", "said"), FAULTS, ids=[f[1][:30] for f in FAULTS])
def test_each_fault_has_its_place_and_remedy(old: str, new: str, place: str, said: str) -> None:
    """A fault is told with the place in the file and what to do."""
    assert old in OWN
    with pytest.raises(DocumentError) as told:
        load_criteria(OWN.replace(old, new, 1), "own.toml")
    faults = [f for f in told.value.faults if f.place == place]
    assert faults, [str(f) for f in told.value.faults]
    assert any(said in str(f) for f in faults), [str(f) for f in faults]
    assert all(f.remedy for f in faults)


def test_all_faults_at_once() -> None:
    """Faults in several places are told together."""
    text = OWN.replace('unit = "ratio"\n', "").replace('"movement"', '"moving"')
    with pytest.raises(DocumentError) as told:
        load_criteria(text, "own.toml")
    assert {f.place for f in told.value.faults} == {
        "own.toml.criteria[0].unit",
        "own.toml.criteria[0].kind",
    }


def test_criteria_that_share_an_id() -> None:
    """Two criteria of one set need two ids."""
    twice = OWN + OWN[OWN.index("[[criteria]]") :]
    with pytest.raises(DocumentError, match="share the id 'half-inch'"):
        load_criteria(twice, "own.toml")


def test_steps_of_a_crack_width_rise() -> None:
    """Steps begin with the limit and rise, or the file is refused."""
    crack = OWN.replace('min_apart = "10 ft"', "steps = [1, 5, 5]").replace(
        "raw slope", "crack width"
    )
    crack = crack.replace('limit = "1/240"', "limit = 1").replace('"ratio"', '"mm"')
    with pytest.raises(DocumentError, match="steps must rise"):
        load_criteria(crack, "own.toml")
    (row,) = load_criteria(crack.replace("5, 5", "5, 6"), "own.toml").criteria
    assert row.steps == (1, 5, 6)


HOSTILE = {
    "long": "#" * 300_000,
    "deep lists": '{"id": ' + "[" * 100_000,
    "deep tables": "a = " + "{b = " * 30_000,
    "closed deep": '{"id": ' + "[" * 5_000 + "]" * 5_000 + "}",
    "huge integer": '{"limit": ' + "9" * 10_000 + "}",
    "nan": '{"limit": NaN}',
    "infinite": '{"limit": -Infinity}',
    "double key": '{"id": "a", "id": "b"}',
    "list": "[1]",
    "empty": "",
    "not text": "\x00\x01",
    "many": '{"id": "a", "title": "a", "edition": "a", "applies_when": "a", "note": "a", '
    '"criteria": [' + ",".join(["{}"] * 5_000) + "]}",
    "many keys": "{" + ",".join(f'"k{i}": 1' for i in range(15_000)) + "}",
    "criteria no list": '{"criteria": 5}',
    "criterion no table": '{"criteria": [5]}',
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_hostile_files_are_refused(text: str) -> None:
    """A hostile file ends in few, clear faults."""
    with pytest.raises(DocumentError) as told:
        load_criteria(text, "own.json")
    assert 1 <= len(told.value.faults) <= 101
    assert all(len(str(f)) < 1000 for f in told.value.faults)


def test_a_long_number_of_faults_is_counted() -> None:
    """Of a great many faults the first are told, and how many there are."""
    with pytest.raises(DocumentError, match="15006 faults in all"):
        load_criteria(HOSTILE["many keys"], "own.json")


@given(st.text(max_size=200) | st.text(alphabet='[]{}="id\n 0.,:', max_size=80))
def test_any_text_is_a_set_or_a_fault(text: str) -> None:
    """No text ends in anything but a set of criteria or a told fault."""
    with pytest.raises(DocumentError):
        load_criteria(text, "own")
