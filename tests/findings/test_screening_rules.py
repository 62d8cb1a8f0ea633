"""Screening: each rule on floors and signs that call for it, and what holds it back."""

from dataclasses import replace
from typing import Any

import pytest
from small_books import Height, dome, flat, plane, small_book

from levelbook.book import Book
from levelbook.findings import Assessment, assess, assess_document, load_criteria, named_set
from levelbook.findings.facts import gather
from levelbook.findings.rules import ORDER, RULES
from levelbook.findings.screening import without
from levelbook.findings.signs import is_active, is_sign, is_wide
from levelbook.floor import shape_floor
from levelbook.floor.shape import AreaShape
from levelbook.levels import reduce

CORNER, MIDDLE = [35, 23], [18, 12]
STEEP, BENT = plane(0.0075), dome(3.0)


def sign(**entry: Any) -> dict[str, Any]:
    """Return a crack at a corner unless told otherwise."""
    return {"id": "d", "at": CORNER, **entry}


def rules_of(told: Assessment) -> set[str]:
    """Return the rules and holds that gave a reason."""
    keys = (key.partition(":")[0] for key in told.words.sentences if key.startswith("reason."))
    return {key.removeprefix("reason.") for key in keys}


# floor, signs, outcome, rules that are told
TABLE: list[tuple[Height, list[dict[str, Any]], str, set[str]]] = [
    (flat, [], "nothing unusual", {"ordinary"}),
    (flat, [sign(age="old")], "nothing unusual", {"ordinary", "ordinary-signs"}),
    (flat, [sign(age="fresh", width="0.003")], "nothing unusual", {"ordinary"}),
    (flat, [sign(kind="slope-felt", age="fresh")], "nothing unusual", {"ordinary"}),
    (flat, [sign(age="unknown")], "keep watching", {"unsettled"}),
    (flat, [sign()], "keep watching", {"unsettled"}),
    (flat, [sign(kind="repair-seen", age="old")], "keep watching", {"unsettled"}),
    (
        flat,
        [sign(kind="door-binding", age="fresh")],
        "keep watching",
        {"active-alone", "unsettled"},
    ),
    (flat, [sign(age="old", width="0.3")], "keep watching", {"active-alone"}),
    (flat, [sign(age="fresh", width="0.3")], "ask an engineer", {"fresh-and-wide"}),
    (STEEP, [], "keep watching", {"slope-alone"}),
    (STEEP, [sign(age="old")], "keep watching", {"slope-alone"}),
    (STEEP, [sign(age="fresh")], "ask an engineer", {"slope-and-active"}),
    (plane(0.0042), [], "keep watching", {"close", "slope-alone"}),
    (BENT, [], "keep watching", {"bend-alone", "slope-alone"}),
    (BENT, [sign(age="old")], "keep watching", {"bend-alone", "slope-alone"}),
    (BENT, [sign(age="fresh")], "ask an engineer", {"bend-and-active", "slope-and-active"}),
    (
        BENT,
        [sign(age="old"), sign(id="e", age="old", kind="door-out-of-square")],
        "ask an engineer",
        {"bend-and-signs"},
    ),
]


@pytest.mark.parametrize(("height", "signs", "outcome", "rules"), TABLE)
def test_shape_and_signs_decide_together(
    height: Height, signs: list[dict[str, Any]], outcome: str, rules: set[str]
) -> None:
    """Each row of the trade's reasoning: the outcome and the rules that give its reasons."""
    told = assess(small_book(height, distress=signs))
    assert told.screening.outcome == outcome
    assert rules_of(told) == rules


def test_every_rule_is_tried() -> None:
    """No rule stands in the table that the cases above do not reach."""
    tried = set().union(*(rules for *_, rules in TABLE))
    assert {f"reason.{rule}" for rule in tried} == {rule.key for rule in RULES}


def test_rules_stand_from_gravest_to_lightest() -> None:
    """The first rule that fits decides, so graver outcomes come first in the table."""
    weights = [ORDER.index(rule.outcome) for rule in RULES]
    assert weights == sorted(weights, reverse=True)


def bump(x: float, y: float) -> float:
    """Return a floor 72 ft long that bends away over its last 24 ft."""
    return -4.0 * max(0.0, (x - 48.0) / 24.0) ** 2


ONLY_BEND = named_set("asce-texas").model_copy(
    update={"criteria": named_set("asce-texas").criteria[:1]}
)


@pytest.mark.parametrize(
    ("at", "rule"),
    [
        ([60, 12], "bend-and-active"),
        ([71, 23], "bend-and-active"),
        ([75, 12], "bend-and-active"),
        ([4, 12], "bend-alone"),
        ([12, 2], "bend-alone"),
    ],
)
def test_a_sign_matches_where_the_floor_bends(at: list[float], rule: str) -> None:
    """A fresh crack at the bending end matches, inside or outside; one far away does not."""
    distress = [{"id": "d", "at": at, "age": "fresh"}]
    book = small_book(bump, size=(72.0, 24.0), across=13, distress=distress)
    assert rule in rules_of(assess(book, criteria=[ONLY_BEND]))


def test_a_sign_along_a_line_matches_too() -> None:
    """A crack drawn as a line matches where it comes near."""
    distress = [{"id": "d", "line": [[4, 12], [44, 12]], "age": "fresh"}]
    book = small_book(bump, size=(72.0, 24.0), across=13, distress=distress)
    assert "bend-and-active" in rules_of(assess(book, criteria=[ONLY_BEND]))


def test_a_sign_away_from_every_floor_still_counts() -> None:
    """A fresh and wide crack in a wall far outside the floors that were read is told of."""
    far = {"id": "d", "at": [100, 100], "age": "fresh", "width": "0.4"}
    told = assess(small_book(distress=[far]))
    assert told.screening.outcome == "ask an engineer"
    assert "away from any measured floor" in told.screening.reasons[0]
    (crack,) = told.book.distress
    nowhere = told.book.model_copy(update={"distress": (crack.model_copy(update={"at": None}),)})
    assert assess(nowhere).screening == told.screening


WIDTHS = [
    # width in inches, counts as a sign, wide (over 5 mm = 0.197 in, with its last digit)
    ("0.003", False, False),
    ("0.004", True, False),
    ("0.19", True, False),
    ("0.195", True, False),
    ("3/16", True, True),
    ("0.2", True, True),
    (None, True, False),
]


@pytest.mark.parametrize(("width", "counts", "wide"), WIDTHS)
def test_hairline_and_wide_cracks(width: str | None, counts: bool, wide: bool) -> None:
    """Hairlines (under 0.1 mm) do not count; 5 mm and more is wide: BRE Digest 251 (1995)."""
    entry = sign(age="old") | ({} if width is None else {"width": width})
    (crack,) = small_book(distress=[entry]).distress
    assert is_sign(crack, "in") == counts
    assert is_wide(crack, "in") == wide
    assert is_active(crack, "in") == (counts and wide)


SLIP = {"r17": {"value": "3.0"}}


def test_a_slip_that_decides_holds_the_outcome_back() -> None:
    """Where the outcome rests on a reading that looks like a slip, none is given yet."""
    told = assess(small_book(readings=SLIP))
    assert told.screening.outcome == "readings not sufficient"
    assert "hold-suspects" in rules_of(told)
    assert any("r17 at station s17" in reason for reason in told.screening.reasons)
    assert any("keep watching" in sentence for sentence in told.words.meaning)
    assert "without readings that look like slips" in told.words.summary[0]
    assert any("r17" in sentence for sentence in told.words.advice)


LINES = [
    (flat, "without readings that look like slips, no bend can be told from none ("),
    (dome(3.0), "without readings that look like slips, it rises by about"),
    (dome(-3.0), "without readings that look like slips, it hangs by about"),
]


@pytest.mark.parametrize(("height", "said"), LINES)
def test_figures_without_slips_stand_beside_those_with_them(height: Height, said: str) -> None:
    """Range and deflection are told twice, those without the slip as a fit without it has them."""
    book = small_book(height, readings=SLIP)
    told = assess(book)
    slips = [s.reading for s in told.floor.suspects]
    assert "r17" in slips
    clean = without(book, slips)
    alone = shape_floor(clean, reduce(clean)).areas["house"]
    assert isinstance(alone, AreaShape)
    assert alone.deflection is not None
    area = assess_document(told)["areas"]["house"]
    beside = area["without_suspects"]
    assert beside["range"]["value"] == pytest.approx(alone.range.value)
    assert beside["range"]["value"] <= area["range"]["value"]
    assert beside["deflection"] != area["deflection"]
    assert beside["deflection"]["deflection"] == pytest.approx(alone.deflection.deflection)
    assert beside["deflection"]["sd"] == pytest.approx(alone.deflection.sd, rel=1e-6)
    assert said in told.words.summary[1]
    assert "give or take" in told.words.summary[1].partition(said[:40])[2]


def test_without_slips_nothing_stands_beside() -> None:
    """A book in which all fits, or all was confirmed, has each figure once."""
    kept = {"r17": {"value": "3.0", "extra": {"confirmed": "read twice: a raised threshold"}}}
    for book in (small_book(), small_book(readings=kept)):
        told = assess(book)
        assert told.without == {}
        assert "without_suspects" not in assess_document(told)["areas"]["house"]
        assert "look like slips" not in " ".join(told.words.summary)


def test_a_slip_that_was_read_again_and_kept() -> None:
    """A reading that the inspector confirmed holds nothing back, and is named."""
    kept = {"r17": {"value": "3.0", "extra": {"confirmed": "read twice: a raised threshold"}}}
    told = assess(small_book(readings=kept))
    assert told.screening.outcome == "keep watching"
    assert rules_of(told) >= {"slope-alone", "confirmed"}


def test_a_slip_that_decides_nothing_is_only_told() -> None:
    """Where the outcome is the same without it, a suspect reading is told, no more."""
    distress = [sign(age="fresh", width="0.4")]
    told = assess(small_book(readings=SLIP, distress=distress))
    assert told.screening.outcome == "ask an engineer"
    assert rules_of(told) >= {"fresh-and-wide", "suspects-same"}


def test_too_few_stations() -> None:
    """Without a shape there is no outcome, and the words say how many readings are missing."""
    strikes = {f"r{k}": {"struck": True} for k in range(3, 35)}
    told = assess(small_book(readings=strikes))
    assert told.screening.outcome == "readings not sufficient"
    assert rules_of(told) == {"hold-too-few"}
    assert "read at 3 places, which is too few" in told.words.summary[0]
    assert any("more stations, at least 2, and not" in sentence for sentence in told.words.advice)
    assert len(told.words.summary) == 3


def test_a_book_without_a_single_reading() -> None:
    """All readings struck: no outcome, no figure, no fault."""
    book = small_book(flat)
    told = assess(without(book, [r.id for r in book.readings]))
    assert told.screening.outcome == "readings not sufficient"
    assert "read at 0 places" in told.words.summary[0]


def test_a_floor_read_in_one_corner_only() -> None:
    """A quarter of a floor without readings is too much to call it ordinary."""
    strikes = {f"r{k}": {"struck": True} for k in range(35) if k % 7 > 2}
    told = assess(small_book(readings=strikes))
    assert told.screening.outcome == "readings not sufficient"
    assert rules_of(told) == {"hold-cover", "ordinary"}


def unpaired(rooms: int) -> Book:
    """Return a level house whose last ``rooms`` rows of stations lie on a second finish."""
    book = small_book(flat)
    oak = book.finishes[0].model_copy(update={"id": "oak", "name": "Oak"})
    readings = tuple(
        r.model_copy(update={"finish": "oak"}) if int(r.id[1:]) >= 35 - 7 * rooms else r
        for r in book.readings
    )
    return book.model_copy(update={"finishes": (*book.finishes, oak), "readings": readings})


@pytest.mark.parametrize(
    ("rooms", "outcome"), [(1, "nothing unusual"), (2, "readings not sufficient")]
)
def test_a_finish_without_a_pair(rooms: int, outcome: str) -> None:
    """Up to a fifth of the stations unconnected is a caution, more holds the outcome back."""
    told = assess(unpaired(rooms))
    assert told.screening.outcome == outcome
    assert ("hold-finish" in rules_of(told)) == (rooms == 2)
    assert any(f"{7 * rooms} of 35 stations are not connected" in c for c in told.words.cautions)
    assert any("side by side" in sentence for sentence in told.words.advice)


def test_a_garage_alone_has_no_outcome() -> None:
    """Figures on movement are not held against a floor that is meant to slope."""
    book = small_book(STEEP)
    garage = book.areas[0].model_copy(update={"kind": "garage"})
    told = assess(book.model_copy(update={"areas": (garage,)}))
    assert told.screening.outcome == "readings not sufficient"
    assert rules_of(told) == {"hold-no-floor"}
    assert "at 35 places, on the floor of a garage or porch alone" in told.words.summary[0]
    assert "too few" not in " ".join(told.words.summary)


def test_places_in_a_garage_are_not_counted_for_the_house() -> None:
    """Of how many places a shape was wanted, only those on that floor are told."""
    strikes = {f"r{k}": {"struck": True} for k in range(3, 30)}
    book = small_book(readings=strikes)
    halves = [((0, 0), (36, 0), (36, 22), (0, 22)), ((0, 22), (36, 22), (36, 24), (0, 24))]
    house, garage = (
        book.areas[0].model_copy(update={"id": name, "kind": kind, "outline": outline})
        for (name, kind), outline in zip(
            (("house", "living"), ("garage", "garage")), halves, strict=True
        )
    )
    stations = tuple(
        s.model_copy(update={"area": "garage"}) if s.at[1] > 22 else s for s in book.stations
    )
    told = assess(book.model_copy(update={"areas": (house, garage), "stations": stations}))
    assert "read at 3 places, which is too few" in told.words.summary[0]


OWN_RANGE = """
id = "own"
title = "Our own rule"
edition = "invented"
applies_when = "always"
note = "An example."
[[criteria]]
id = "two-inches"
title = "Two inches"
quantity = "range"
limit = 20
unit = "in"
basis = "common practice"
source = "our own"
kind = "movement"
note = "An example."
"""


def test_the_bend_is_always_looked_at() -> None:
    """Where the sets chosen say nothing of the bend, 1/360 of ASCE Texas serves."""
    own = load_criteria(OWN_RANGE, "own.toml")
    told = assess(small_book(BENT, distress=[sign(age="fresh")]), criteria=[own])
    assert [f.set for f in told.findings] == ["own"]
    assert told.screening.outcome == "ask an engineer"
    assert any("1 in 360, ASCE Texas Section" in reason for reason in told.screening.reasons)


def test_tolerances_of_construction_decide_nothing() -> None:
    """A new floor beyond a builder's tolerance is no sign of movement."""
    book = small_book(plane(0.003), property={"year_built": 2026})
    told = assess(book, criteria=[named_set("us-new-construction")])
    assert [f.state for f in told.findings] == ["not measured", "beyond"]
    assert told.screening.outcome == "nothing unusual"


@pytest.mark.parametrize(("line", "matches"), [(True, True), (False, False)])
def test_without_a_line_no_sign_lies_where_the_floor_bends(line: bool, matches: bool) -> None:
    """A fresh crack at the worst of a dome matches its bend; where none is told, it does not."""
    book = small_book(BENT, distress=[{"id": "d", "at": MIDDLE, "age": "fresh"}])
    floor = shape_floor(book, reduce(book))
    shape = floor.areas["house"]
    assert isinstance(shape, AreaShape)
    if not line:
        shape = replace(shape, deflection=None)
    facts, _ = gather(book, replace(floor, areas={"house": shape}), ())
    assert [d.id for d in facts.active] == ["d"]
    assert bool(facts.matching) == matches
