"""Criteria against floors whose shape is known: values, states and where they apply."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_books import dome, plane, small_book

from levelbook.book import Book
from levelbook.findings.catalogue import builtin_sets, named_set
from levelbook.findings.criteria import Applies, CriteriaSet, Length
from levelbook.findings.judge import Z95, find, state_of
from levelbook.findings.model import Finding
from levelbook.floor import shape_floor
from levelbook.levels import reduce


def judged(book: Book, *sets: str | CriteriaSet) -> dict[str, Finding]:
    """Return the findings of a book by criterion and area."""
    chosen = [s if isinstance(s, CriteriaSet) else named_set(s) for s in sets]
    floor = shape_floor(book, reduce(book))
    return {f"{f.id}:{f.area or ''}": f for f in find(book, floor, chosen)}


STATES = [
    (0.0, 0.0, 1.0, "within"),
    (1.0, 0.0, 1.0, "within"),
    (1.0, None, 1.0, "within"),
    (1.0 + 1e-9, None, 1.0, "beyond"),
    (1.0, 1e-6, 1.0, "too close to call"),
    (0.9, 0.05, 1.0, "within"),
    (0.9, 0.0511, 1.0, "too close to call"),
    (1.1, 0.0511, 1.0, "too close to call"),
    (1.1, 0.0509, 1.0, "beyond"),
    (None, None, 1.0, "not measured"),
]


@pytest.mark.parametrize(("value", "sd", "limit", "state"), STATES)
def test_state_by_the_interval(
    value: float | None, sd: float | None, limit: float, state: str
) -> None:
    """Too close to call is where the limit lies inside value ± 1.96 sd (0.1/1.96 = 0.0510)."""
    assert state_of(value, sd, limit) == state


@given(st.floats(-10, 10), st.floats(1e-6, 10), st.floats(-10, 10), st.floats(0.001, 1000))
def test_state_is_the_same_in_any_unit(value: float, sd: float, limit: float, scale: float) -> None:
    """A state does not depend on the unit, unless the limit lies on the interval's very end."""
    ends = (value - Z95 * sd, value + Z95 * sd)
    if min(abs(limit - end) for end in ends) > 1e-9:
        here, there = state_of(value, sd, limit), state_of(value * scale, sd * scale, limit * scale)
        assert here == there
        inside = ends[0] <= limit <= ends[1]
        assert (here == "too close to call") == inside


# A plane of 0.75 % over 36 ft by 24 ft: every figure by hand. Highest minus lowest is
# 36 ft · 12 · 0.0075 = 3.24 in = 82.3 mm; between any two points along x 1.8 in per 20 ft.
# Readings stand on a square grid 6 ft apart.
PLANE = [
    ("asce-texas", "tilt-1-percent", 0.75, "within"),
    ("asce-texas", "deflection-360", 0.0, "within"),
    ("mbie-nz", "slope-over-2-m", 0.75, "beyond"),
    ("mbie-nz", "whole-floor-50-mm", 82.296, "beyond"),
    ("common-practice", "one-inch-in-twenty-feet", 1.8, "beyond"),
    ("common-practice", "ordinary-drop", 3.24, "beyond"),
    ("common-practice", "reading-spacing", 6.0, "within"),
]


@pytest.mark.parametrize(("name", "criterion", "value", "state"), PLANE)
@pytest.mark.parametrize("units", [("in", "ft"), ("mm", "m"), ("mm", "ft")])
def test_a_plane_by_hand(
    name: str, criterion: str, value: float, state: str, units: tuple[str, str]
) -> None:
    """The four quantities on one plane are four numbers, the same in any units of the book."""
    found = judged(small_book(plane(0.0075), level=units[0], plan=units[1]), name)
    finding = found[f"{criterion}:house"]
    assert finding.state == state
    assert finding.value == pytest.approx(value, rel=0.02, abs=1e-4)
    assert (finding.sd is None) == (criterion == "reading-spacing")


@pytest.mark.parametrize(("apart", "state"), [(9.0, "within"), (10.0, "within"), (10.1, "beyond")])
def test_readings_as_far_apart_as_is_asked(apart: float, state: str) -> None:
    """On a square grid the spacing is that of the grid, and 10 ft is not more than 10 ft."""
    book = small_book(plane(0.0075), across=5, up=4, size=(4 * apart, 3 * apart))
    found = judged(book, "common-practice")["reading-spacing:house"]
    assert found.value == pytest.approx(apart)
    assert found.state == state


def test_the_raw_slope_holds_the_tilt_and_the_deflection_does_not() -> None:
    """A tilted dome bends as the dome does, and slopes more than it."""
    level, tilted = small_book(dome(1.5)), small_book(lambda x, y: dome(1.5)(x, y) + 0.06 * x)
    here = judged(level, "asce-texas", "common-practice")
    there = judged(tilted, "asce-texas", "common-practice")
    bends = [f["deflection-360:house"].value for f in (here, there)]
    slopes = [f["one-inch-in-twenty-feet:house"].value for f in (here, there)]
    assert bends[0] == pytest.approx(bends[1], rel=0.02)
    assert slopes[0] is not None
    assert slopes[1] is not None
    assert slopes[1] > slopes[0] + 0.5


def test_a_shorter_distance_finds_a_steeper_slope() -> None:
    """Each criterion is measured over its own distance: a short ramp shows at 2 m, not at 20 ft."""
    book = small_book(lambda x, y: 0.6 if x > 20 else 0.0, property={"year_built": 2026})
    found = judged(book, "mbie-nz", "us-new-construction")
    short = found["slope-over-2-m:house"].value
    long = found["nahb-out-of-level:house"].value
    assert short is not None
    assert long is not None
    assert short / 100 > 1.5 * long / 240


NEW = [
    ({"year_built": 2025}, {}, True),
    ({"year_built": 2024}, {}, True),
    ({"year_built": 2023}, {}, False),
    ({"year_built": 2027}, {}, False),
    ({}, {}, False),
    ({}, {"purpose": "baseline"}, True),
]


@pytest.mark.parametrize(("house", "visit", "new"), NEW)
def test_tolerances_hold_for_new_houses_only(
    house: dict[str, object], visit: dict[str, object], new: bool
) -> None:
    """A tolerance of construction says why it is not held against an older house."""
    found = judged(small_book(property=house, visit=visit), "nhbc-new-floors")
    if new:
        assert found["level-over-6-m:house"].state == "within"
    else:
        finding = found["level-over-6-m:"]
        assert (finding.state, finding.value) == ("not measured", None)
        assert "new houses only" in finding.note


@pytest.mark.parametrize(
    ("size", "asked"), [((36.0, 24.0), "level-over-6-m"), ((18.0, 12.0), "level-up-to-6-m")]
)
def test_the_size_of_a_floor_chooses_its_tolerance(size: tuple[float, float], asked: str) -> None:
    """Floors up to 6 m and over 6 m across have figures of their own."""
    book = small_book(plane(0.002), size=size, property={"year_built": 2026})
    found = judged(book, "nhbc-new-floors")
    assert {k for k in found if k.startswith("level")} == {f"{asked}:house"}


def test_rise_across_a_small_floor_by_hand() -> None:
    """A plane of 2 mm per m along its longer side rises 2 mm for each metre across."""
    book = small_book(plane(0.002), size=(18.0, 12.0), property={"year_built": 2026})
    finding = judged(book, "nhbc-new-floors")["level-up-to-6-m:house"]
    assert finding.value == pytest.approx(2.0, rel=1e-6)


UNMEASURED = [
    ("nhbc-new-floors", "straightedge-2-m", "straightedge"),
    ("us-new-construction", "aci-top-elevation", "drawings"),
    ("texas-code-304", "tilt-since-construction", "one visit"),
]


@pytest.mark.parametrize(("name", "criterion", "said"), UNMEASURED)
def test_what_readings_cannot_measure_is_said_so(name: str, criterion: str, said: str) -> None:
    """No value is made up for a quantity that spaced readings do not give."""
    found = judged(small_book(property={"year_built": 2026}), name)
    finding = found[f"{criterion}:house"]
    assert (finding.value, finding.sd, finding.state) == (None, None, "not measured")
    assert said in finding.note


def test_a_foundation_that_a_criterion_is_not_for() -> None:
    """The slab's elevation is not asked of a house on piers."""
    house = {"year_built": 2026, "foundation": "pier-and-beam"}
    finding = judged(small_book(property=house), "us-new-construction")["aci-top-elevation:"]
    assert finding.state == "not measured"
    assert "pier-and-beam" in finding.note


def test_garages_are_left_out_of_limits_on_movement() -> None:
    """A garage is meant to slope: cracks and the fall to its door are judged there."""
    garage = {
        "id": "garage",
        "kind": "garage",
        "outline": [[40, 0], [60, 0], [60, 20], [40, 20]],
    }
    book = small_book(
        plane(0.02),
        areas={"garage": garage},
        distress=[{"id": "d", "at": [50, 10], "width": "0.1"}],
    )
    found = judged(book, *(s.id for s in builtin_sets()))
    assert [key for key in found if key.endswith(":garage")] == [
        "crack-category:garage",
        "toward-the-door:garage",
        "eighth-per-foot:garage",
    ]


def test_too_few_stations_are_told() -> None:
    """An area without enough stations has no value, and says how many it has and needs."""
    strikes = {f"r{k}": {"struck": True} for k in range(3, 35)}
    finding = judged(small_book(readings=strikes), "asce-texas")["tilt-1-percent:house"]
    assert finding.state == "not measured"
    assert "only 3 of the 5 stations needed were read there" in finding.note


def own(base: str, **changes: object) -> CriteriaSet:
    """Return a set of one criterion: that of ``base`` with some changes."""
    held = named_set(base)
    return held.model_copy(update={"criteria": (held.criteria[0].model_copy(update=changes),)})


def test_a_visit_that_a_criterion_is_not_for() -> None:
    """A criterion for repeat visits says why it is not held against another."""
    repeat = own("asce-texas", applies=Applies(purpose=("repeat",)))
    finding = judged(small_book(), repeat)["deflection-360:"]
    assert finding.state == "not measured"
    assert "it does not apply to a condition visit" in finding.note


def test_no_two_stations_far_enough_apart() -> None:
    """A slope over 100 ft is not measured in a house of 36 ft."""
    far = own("common-practice", min_apart=Length(value=100.0, unit="ft"))
    finding = judged(small_book(), far)["one-inch-in-twenty-feet:house"]
    assert finding.state == "not measured"
    assert "no two stations lie 100 ft apart" in finding.note


def test_no_line_to_measure_a_bend_along() -> None:
    """Where no chord fits the floor, the deflection ratio is not measured."""
    book = small_book()
    floor = shape_floor(book, reduce(book))
    bare = replace(floor, areas={"house": replace(floor.areas["house"], deflection=None)})  # type: ignore[type-var, arg-type]
    finding = find(book, bare, [named_set("asce-texas")])[0]
    assert finding.state == "not measured"
    assert "no line over this floor is long enough" in finding.note


def test_an_own_limit_on_a_crack_has_no_category() -> None:
    """A crack width without steps is one limit, as any other."""
    plain = own("bre-251", limit=2.0, steps=())
    distress = [{"id": "a", "at": [5, 5], "width": "0.12"}]
    finding = judged(small_book(distress=distress), plain)["crack-category:house"]
    assert (finding.limit, finding.state) == (2.0, "beyond")
    assert not finding.note.startswith("Category")


CRACKS = [
    # width as written, category told, limit (mm), state
    ("0.002", "Category 0", 0.1, "within"),
    ("0.02", "Category 1", 1.0, "within"),
    ("0.04", "Category 1 to 2", 5.0, "too close to call"),
    ("0.12", "Category 2", 5.0, "within"),
    ("0.20", "Category 2 to 3", 15.0, "too close to call"),
    ("1/4", "Category 3", 15.0, "within"),
    ("0.75", "Category 4", 25.0, "within"),
    ("1 1/4", "Category 5", 25.0, "beyond"),
]


@pytest.mark.parametrize(("width", "told", "limit", "state"), CRACKS)
def test_categories_of_a_crack(width: str, told: str, limit: float, state: str) -> None:
    """The widest crack falls in its BRE 251 category; the last digit's doubt may span two."""
    distress = [{"id": "a", "at": [5, 5], "width": width}, {"id": "b", "at": [6, 6]}]
    finding = judged(small_book(distress=distress), "bre-251")["crack-category:house"]
    assert finding.note.startswith(f"{told}. ")
    assert (finding.limit, finding.state) == (limit, state)


def test_no_crack_width_at_all() -> None:
    """Without any width there is one finding, not measured."""
    found = judged(small_book(distress=[{"id": "a", "at": [5, 5]}]), "bre-251")
    assert [f.state for f in found.values()] == ["not measured"]
    assert "no width of a crack" in found["crack-category:"].note


def test_width_of_a_door_gap_is_no_crack() -> None:
    """Only cracks and separations have a category."""
    distress = [{"id": "a", "kind": "door-out-of-square", "at": [5, 5], "width": "0.5"}]
    assert judged(small_book(distress=distress), "bre-251")["crack-category:"].value is None


def _near_a_bound(finding: Finding) -> bool:
    """Tell whether the limit lies within 3 % of an end of the interval."""
    ends = [(finding.value or 0.0) + sign * Z95 * (finding.sd or 0.0) for sign in (-1, 1)]
    return any(abs(end - finding.limit) < 0.03 * finding.limit for end in ends)


@settings(max_examples=15)
@given(st.floats(-0.01, 0.01), st.floats(-2.0, 2.0))
def test_units_of_the_book_change_no_state(slope: float, bend: float) -> None:
    """The same floor in inches and feet or in millimetres and metres has the same states.

    The worst chord is at least 20 ft or 6 m long, round lengths of either system, so that
    its figure may differ by a little; every other figure is the same.
    """

    def height(x: float, y: float) -> float:
        return dome(bend)(x, y) + plane(slope)(x, y)

    names = [s.id for s in builtin_sets()]
    distress = [{"id": "a", "at": [5, 5], "width": "0.06"}]
    here = judged(small_book(height, distress=distress), *names)
    there = judged(small_book(height, level="mm", plan="m", distress=distress), *names)
    assert here.keys() == there.keys()
    for key, finding in here.items():
        assert finding.state == there[key].state or _near_a_bound(finding), key
        if finding.value is not None and finding.quantity != "deflection ratio":
            assert there[key].value == pytest.approx(finding.value, rel=2e-3, abs=1e-5), key


def test_a_slope_limit_without_a_distance_is_not_measured() -> None:
    """How steep a floor is between two places depends on how far apart: without that, no value."""
    bare = own("common-practice", min_apart=None)
    finding = judged(small_book(plane(0.01)), bare)["one-inch-in-twenty-feet:house"]
    assert (finding.value, finding.state) == (None, "not measured")


def test_a_crack_counts_where_its_categories_apply() -> None:
    """Categories asked for living rooms alone give no category to a crack in the porch."""
    porch = {"id": "p", "kind": "porch", "outline": [[40, 0], [50, 0], [50, 9], [40, 9]]}
    cracks = [
        {"id": "a", "at": [5, 5], "width": "0.12"},
        {"id": "b", "at": [45, 5], "width": "1.25"},
    ]
    book = small_book(distress=cracks, areas={"p": porch})
    indoors = own("bre-251", applies=Applies(areas=("living",)))
    found = judged(book, indoors)
    assert set(found) == {"crack-category:house"}
    assert found["crack-category:house"].note.startswith("Category 2. ")
    both = judged(book, own("bre-251", applies=Applies(areas=("living", "porch"))))
    assert both["crack-category:p"].note.startswith("Category 5. ")
