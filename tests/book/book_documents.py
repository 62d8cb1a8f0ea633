"""Documents without faults, drawn at random."""

from datetime import date
from typing import Any

from hypothesis import strategies as st

LISTS = ("instruments", "areas", "finishes", "setups", "stations", "readings")
LEVEL_UNITS = st.sampled_from(["in", "mm"])
PLAN_UNITS = st.sampled_from(["ft", "m"])

ids = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], max_codepoint=0x1F9FF), min_size=1, max_size=64
)
texts = st.text(
    st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from("\n\t"), max_size=30
)
characters = st.characters(exclude_categories=["Cs"])
json_values = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(2**53) + 1, 2**53 - 1),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(characters, max_size=8),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.text(characters, max_size=4), inner, max_size=3),
    ),
    max_leaves=6,
)
extras = st.dictionaries(st.text("ab_é", max_size=4), json_values, max_size=3)
values = st.one_of(
    st.decimals(-999, 999, places=2).map(str),
    st.tuples(st.integers(0, 9), st.integers(1, 7)).map(lambda t: f"-{t[0]} {t[1]}/8"),
    st.integers(-999, 999),
    st.integers(-(10**6), 10**6).map(lambda n: n / 1000),
)
days = st.dates(date(1900, 1, 1), date(2200, 12, 31))
lengths = st.floats(5, 200) | st.integers(5, 200)


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a good document: some areas, stations in them, readings anyhow, keys in any order."""
    listed = st.lists(ids, min_size=1, max_size=4, unique=True)
    names = {key: draw(listed) for key in LISTS}
    areas = [draw(area(name)) for name in names["areas"]]
    readings = [draw(reading(name, names)) for name in names["readings"]]
    readings[0]["struck"] = False
    document = {
        "format": "levelbook/1",
        "units": draw(st.fixed_dictionaries({"level": LEVEL_UNITS, "plan": PLAN_UNITS})),
        "property": {"label": draw(texts)},
        "visit": {"date": draw(days).isoformat()},
        "instruments": [draw(instrument(name)) for name in names["instruments"]],
        "areas": areas,
        "finishes": [{"id": name, "name": draw(texts)} for name in names["finishes"]],
        "setups": [
            {"id": name, "instrument": draw(st.sampled_from(names["instruments"]))}
            for name in names["setups"]
        ],
        "stations": [draw(station(name, areas)) for name in names["stations"]],
        "readings": readings,
        "reference": {"station": readings[0]["station"]},
    }
    if draw(st.booleans()):
        document["extra"] = draw(extras)
    keys = draw(st.permutations(list(document)))
    return {key: document[key] for key in keys}


@st.composite
def area(draw: st.DrawFn, name: str) -> dict[str, Any]:
    """Draw a rectangular area."""
    width, depth = draw(lengths), draw(lengths)
    ring = [[0, 0], [width, 0], [width, depth], [0, depth]]
    return {"id": name, "kind": "living", "outline": ring}


@st.composite
def station(draw: st.DrawFn, name: str, areas: list[dict[str, Any]]) -> dict[str, Any]:
    """Draw a station in one of the areas."""
    where = draw(st.sampled_from(areas))
    share = draw(st.tuples(st.floats(0, 1), st.floats(0, 1)))
    at = [size * part for size, part in zip(where["outline"][2], share, strict=True)]
    more = st.fixed_dictionaries({}, optional={"note": texts, "moved": texts, "extra": extras})
    return {"id": name, "at": at, "area": where["id"], **draw(more)}


@st.composite
def reading(draw: st.DrawFn, name: str, names: dict[str, list[str]]) -> dict[str, Any]:
    """Draw a reading of anything anywhere."""
    one = {"id": name, "value": draw(values), "struck": draw(st.booleans())}
    for key, target in (("setup", "setups"), ("station", "stations"), ("finish", "finishes")):
        one[key] = draw(st.sampled_from(names[target]))
    return one


@st.composite
def instrument(draw: st.DrawFn, name: str) -> dict[str, Any]:
    """Draw an instrument of either sense."""
    return {
        "id": name,
        "kind": "other",
        "higher_reads": draw(st.sampled_from(["more", "less"])),
        "resolution": draw(st.sampled_from([0, 0.1, 0.0625])),
        "sd": draw(st.floats(0.001, 1)),
    }
