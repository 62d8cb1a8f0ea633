"""The sets of criteria that come with the program: their figures, sources and places."""

import math

import pytest
from small_books import small_book

from levelbook.errors import UsageError
from levelbook.findings.catalogue import builtin_sets, default_sets, named_set
from levelbook.findings.criteria import CriteriaSet, Criterion
from levelbook.findings.measures import MEASURES
from levelbook.findings.quantities import DIMENSION, SLOPES, UNMEASURED, factor, units_of

ALL = [(s, c) for s in builtin_sets() for c in s.criteria]
IDS = [f"{s.id}/{c.id}" for s, c in ALL]

ASCE = (
    "ASCE Texas Section, Guidelines for the Evaluation and Repair of Residential Foundations "
    "(v1 2003, v2 2009, v3 2022)"
)
MBIE = (
    "New Zealand MBIE, guidance on houses affected by the Canterbury earthquakes "
    "(2012, updated 2018)"
)
CODE_304 = "former 10 Texas Administrative Code ch. 304 (2005, no longer law); secondary"
PRACTICE = "common practice, no source"

# Each figure as its source gives it, in rise over run or in metres, and the source as stated.
# "secondary": read in a text that reports the source. Figures of common practice have none.
PUBLISHED = {
    "common-practice/one-inch-in-twenty-feet": ("raw slope", 1 / 240, PRACTICE),
    "common-practice/ordinary-drop": ("range", 0.7 * 0.0254, PRACTICE),
    "common-practice/reading-spacing": ("reading gap", 3.048, PRACTICE),
    "asce-texas/deflection-360": ("deflection ratio", 1 / 360, f"{ASCE}; secondary"),
    "asce-texas/tilt-1-percent": ("tilt", 0.01, f"{ASCE}, and PTI DC10.8-18; secondary"),
    "texas-code-304/deflection-and-signs": ("deflection ratio", 1 / 360, CODE_304),
    "texas-code-304/tilt-since-construction": ("tilt since construction", 0.01, CODE_304),
    "mbie-nz/slope-over-2-m": ("raw slope", 0.005, MBIE),
    "mbie-nz/whole-floor-50-mm": ("range", 0.050, MBIE),
    "nhbc-new-floors/level-up-to-6-m": ("range across", 0.003, "NHBC Standards 2020, 9.1.5"),
    "nhbc-new-floors/level-over-6-m": ("range", 0.020, "NHBC Standards 2020, 9.1.5"),
    "nhbc-new-floors/straightedge-2-m": ("straightedge gap", 0.005, "NHBC Standards 2020, 9.1.5"),
    "us-new-construction/aci-top-elevation": ("elevation", 0.75 * 0.0254, "ACI 117-90 4.3.1.1"),
    "us-new-construction/nahb-out-of-level": (
        "raw slope",
        0.5 / 240,
        "NAHB Residential Construction Performance Guidelines; secondary",
    ),
    "garage/toward-the-door": ("garage fall", 0.0, "IRC R309 (to 2021), R317 (2024)"),
    "garage/eighth-per-foot": ("garage fall", 1 / 96, PRACTICE),
    "ground/six-inches-in-ten-feet": ("ground fall", 6 / 120, "IRC R401.3"),
    "ground/two-percent": ("ground fall", 0.02, "IRC R401.3"),
    "bre-251/crack-category": ("crack width", 0.0001, "BRE Digest 251 (1995)"),
}


@pytest.mark.parametrize(("held", "criterion"), ALL, ids=IDS)
def test_every_criterion_is_complete(held: CriteriaSet, criterion: Criterion) -> None:
    """No criterion joins without a finite limit, a fitting unit, a source and a place."""
    assert math.isfinite(criterion.limit)
    assert criterion.limit > 0 or criterion.at_least
    assert criterion.unit in units_of(criterion.quantity)
    assert criterion.source
    assert criterion.note
    assert criterion.applies.areas
    assert held.edition
    assert held.applies_when
    assert (criterion.basis == "common practice") == (criterion.source == PRACTICE)
    assert criterion.secondary == criterion.source.endswith("secondary")
    assert (criterion.kind == "construction tolerance") == criterion.applies.new_house


@pytest.mark.parametrize(("held", "criterion"), ALL, ids=IDS)
def test_every_figure_is_the_published_one(held: CriteriaSet, criterion: Criterion) -> None:
    """Quantity, figure and source are those of the table above, converted exactly."""
    quantity, figure, source = PUBLISHED[f"{held.id}/{criterion.id}"]
    base = "ratio" if DIMENSION[criterion.quantity] == "slope" else "m"
    assert criterion.quantity == quantity
    assert criterion.limit * factor(criterion.unit, base) == pytest.approx(figure, rel=1e-12)
    assert criterion.source == source


def test_the_table_has_no_more_figures_than_the_files() -> None:
    """Every figure of the table stands in a file."""
    assert sorted(PUBLISHED) == sorted(IDS)


def test_crack_categories_of_bre_251() -> None:
    """Categories 0 to 5 end at 0.1, 1, 5, 15 and 25 mm (BRE Digest 251, 1995)."""
    assert named_set("bre-251").criteria[0].steps == (0.1, 1, 5, 15, 25)


@pytest.mark.parametrize(
    ("name", "signs"), [("asce-texas", [1, 1]), ("texas-code-304", [2, 0]), ("mbie-nz", [0, 0])]
)
def test_numbers_that_need_signs(name: str, signs: list[int]) -> None:
    """ASCE Texas asks for a sign beside a number, the former Texas code for more than one."""
    assert [c.needs_distress for c in named_set(name).criteria] == signs


@pytest.mark.parametrize(
    ("name", "apart"),
    [("mbie-nz", 2.0), ("common-practice", 3.048), ("us-new-construction", 6.096)],
)
def test_how_far_apart_two_points_lie(name: str, apart: float) -> None:
    """Each slope between two points says over which distance, in metres here."""
    (row,) = (c for c in named_set(name).criteria if c.quantity == "raw slope")
    assert row.min_apart is not None
    assert row.min_apart.to("m") == pytest.approx(apart, rel=1e-12)


def test_every_quantity_is_measured_in_one_way_or_said_to_be_unmeasured() -> None:
    """The closed list of quantities is covered, and no quantity borrows another's measure."""
    assert set(DIMENSION) == set(MEASURES) | set(UNMEASURED) | {"crack width", "ground fall"}
    assert not set(MEASURES) & set(UNMEASURED)
    assert len(set(MEASURES.values())) == len(MEASURES)


@pytest.mark.parametrize(
    ("unit", "one"),
    [
        ("ratio", 1.0),
        ("percent", 0.01),
        ("mm per m", 0.001),
        ("in per ft", 1 / 12),
        ("in per 20 ft", 1 / 240),
    ],
)
def test_golden_conversions_of_slopes(unit: str, one: float) -> None:
    """One of each slope unit in rise over run, by hand; and back."""
    assert factor(unit, "ratio") == one
    assert factor(unit, "ratio") * factor("ratio", unit) == pytest.approx(1.0, rel=1e-15)
    assert unit in SLOPES


CHOICE = [
    ("in", {}, {}, ["asce-texas", "bre-251", "common-practice"]),
    ("in", {"foundation": "slab-on-ground"}, {}, ["asce-texas", "bre-251", "common-practice"]),
    ("in", {"foundation": "basement"}, {}, ["asce-texas", "bre-251"]),
    (
        "in",
        {"year_built": 2025},
        {},
        ["asce-texas", "bre-251", "common-practice", "us-new-construction"],
    ),
    ("in", {"year_built": 2023}, {}, ["asce-texas", "bre-251", "common-practice"]),
    (
        "in",
        {},
        {"purpose": "baseline"},
        ["asce-texas", "bre-251", "common-practice", "us-new-construction"],
    ),
    ("mm", {}, {}, ["asce-texas", "bre-251", "mbie-nz"]),
    ("mm", {"year_built": 2026}, {}, ["asce-texas", "bre-251", "mbie-nz", "nhbc-new-floors"]),
    ("mm", {"year_built": 1980}, {"purpose": "baseline"}, ["asce-texas", "bre-251", "mbie-nz"]),
]


@pytest.mark.parametrize(("unit", "house", "visit", "chosen"), CHOICE)
def test_sets_chosen_by_the_book(
    unit: str, house: dict[str, object], visit: dict[str, object], chosen: list[str]
) -> None:
    """Units, foundation and age choose the sets as the files state it."""
    book = small_book(level=unit, property=house, visit=visit)
    assert [s.id for s in default_sets(book)] == chosen


def test_a_name_that_is_no_set() -> None:
    """An unknown name is refused with the names there are."""
    with pytest.raises(UsageError, match=r"no set is called 'oops'.*asce-texas, bre-251"):
        named_set("oops")
