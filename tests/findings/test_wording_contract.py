"""The wording: every key is used, every key used is there, and nothing is overclaimed."""

import ast
import re
import string
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest
from small_books import dome, flat, plane, small_book

import levelbook.findings
from levelbook.errors import UsageError
from levelbook.findings import Assessment, assess
from levelbook.findings.overrides import OUTCOMES, Wishes
from levelbook.findings.phrases import Phrases
from levelbook.findings.teller import Teller
from levelbook.findings.wording import Wording, load_wording, placeholders

WORDING = load_wording()
FOLDER = Path(levelbook.findings.__file__).parent
SECTIONS = {key.partition(".")[0] for key in WORDING.templates}
KEY = re.compile(rf"({'|'.join(sorted(SECTIONS))})\.[a-z0-9-]+")


def literals() -> Iterator[tuple[str, ast.AST]]:
    """Yield every text in the code of the findings that has the form of a key."""
    for path in sorted(FOLDER.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                if KEY.fullmatch(node.value):
                    yield node.value, node
            elif isinstance(node, ast.JoinedStr):
                head = node.values[0] if node.values else None
                text = head.value if isinstance(head, ast.Constant) else ""
                if isinstance(text, str) and text.removesuffix(".") in SECTIONS:
                    yield text, node


def used() -> set[str]:
    """Return every key that the code names; a section named as a whole counts whole."""
    keys = set()
    for text, node in literals():
        if isinstance(node, ast.JoinedStr):
            keys |= {key for key in WORDING.templates if key.startswith(text)}
        else:
            keys.add(text)
    return keys | {key for key in WORDING.templates if key.startswith("label.")}


def test_every_key_used_is_there_and_every_key_there_is_used() -> None:
    """The file holds no sentence that is never said, and lacks none."""
    assert used() == set(WORDING.templates)


def calls() -> list[tuple[str, frozenset[str]]]:
    """Return the literal calls that fill in a template: its key and the values' names."""
    found = []
    for path in sorted(FOLDER.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (
                isinstance(node, ast.Call)
                and node.args
                and isinstance(node.func, ast.Attribute | ast.Name)
            ):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id
            first = node.args[0]
            if name not in ("tell", "part", "missing") or not isinstance(first, ast.Constant):
                continue
            if all(keyword.arg for keyword in node.keywords):
                names = frozenset(k.arg for k in node.keywords if k.arg)
                found.append((str(first.value), names))
    return found


@pytest.mark.parametrize(("key", "values"), sorted(set(calls())))
def test_placeholders_match_what_the_code_gives(key: str, values: frozenset[str]) -> None:
    """Each template asks for exactly the values that the code fills in."""
    assert placeholders(WORDING.templates[key]) == values


def test_there_are_calls_to_check() -> None:
    """The search above finds the calls it is meant to find."""
    assert len(calls()) > 40


@pytest.mark.parametrize("language", ["en"])
def test_every_language_has_the_same_keys_and_placeholders(language: str) -> None:
    """A translation keeps every key and every placeholder."""
    wording = load_wording(language)
    assert set(wording.templates) == set(WORDING.templates)
    for key, template in wording.templates.items():
        assert placeholders(template) == placeholders(WORDING.templates[key]), key


def test_templates_hold_plain_names_only() -> None:
    """No template reaches into a value, formats a number or repeats itself."""
    for key, template in WORDING.templates.items():
        for _, name, spec, conversion in string.Formatter().parse(template):
            assert name is None or re.fullmatch(r"[a-z]+", name), key
            assert not spec, key
            assert not conversion, key


def test_the_file_is_read_as_it_stands() -> None:
    """The templates are those of the data file, none more."""
    text = (resources.files("levelbook.findings") / "wording" / "en.toml").read_text("utf-8")
    assert sum(len(rows) for rows in tomllib.loads(text).values()) == len(WORDING.templates)


@pytest.mark.parametrize(
    ("key", "values"), [("title.none", {}), ("sign.also", {}), ("sign.also", {"number": "1"})]
)
def test_a_wrong_call_is_refused(key: str, values: dict[str, str]) -> None:
    """A key that is not there, or values that do not match, raise at once."""
    with pytest.raises(UsageError, match=re.escape(f"wording {key}")):
        WORDING.say(key, values)


def test_a_language_that_is_not_there() -> None:
    """An unknown language is refused with those there are."""
    with pytest.raises(UsageError, match="choose from: en"):
        load_wording("xx")


def test_long_lists_are_cut_with_their_number() -> None:
    """Of a long list the first are shown, and how many more there are."""
    teller = Teller(Wording("en", {"sign.also": "and {count} more"}), Wishes({}, ()))
    assert teller.listed(list("abcd"), 6) == "a; b; c; d; and 2 more"
    assert teller.listed(list("abcd"), 4) == "a; b; c; d"


def test_a_sign_is_described_once_and_a_slip_too() -> None:
    """Where several reasons name one sign, its age and width stand in the first alone."""
    cracks = [{"id": f"d{n}", "at": [34, 12], "age": "fresh", "width": "0.25"} for n in range(1, 6)]
    told = assess(small_book(plane(0.008), distress=cracks))
    first, second = (r for r in told.screening.reasons if "crack d1" in r)
    assert first.count("give or take") == 3
    assert "crack d3 in the drywall (fresh; 0.25 in wide, give or take 0.01); and 2 more" in first
    assert "crack d1; crack d2; crack d3; and 2 more" in second
    told = assess(small_book(plane(0.008), readings={"r8": {"value": "9"}}))
    assert any("r8" in r and "expected" in r for r in told.screening.reasons)
    (advice,) = (a for a in told.words.advice if "r8" in a)
    assert advice.endswith("r8 at station s8.")


@pytest.mark.parametrize(
    ("parts", "text"), [(["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")]
)
def test_what_is_joined(parts: list[str], text: str) -> None:
    """A short list reads as people write it."""
    assert Teller(WORDING, Wishes({}, ())).joined(parts) == text


FRESH = {"id": "d", "at": [35, 23], "age": "fresh", "width": "0.06"}
HOUSES = {
    "flat": lambda: small_book(flat),
    "steep": lambda: small_book(plane(0.0075), property={"north": 45}),
    "bent": lambda: small_book(dome(3.0), distress=[FRESH]),
    "metric": lambda: small_book(dome(-3.0), level="mm", plan="m", distress=[FRESH]),
    "few": lambda: small_book(readings={f"r{k}": {"struck": True} for k in range(3, 35)}),
    "slip": lambda: small_book(readings={"r17": {"value": "3.0"}}),
}


@pytest.fixture(scope="module", params=HOUSES)
def told(request: pytest.FixtureRequest) -> Assessment:
    """Return what is said of each of a few unlike houses."""
    return assess(HOUSES[request.param]())


def sentences(told: Assessment) -> list[str]:
    """Return every sentence that a reader meets."""
    words = told.words
    parts = (words.summary, words.meaning, words.advice, words.limits, words.cautions)
    return [words.title, *(s for part in parts for s in part), *told.screening.reasons]


def test_a_report_has_all_its_parts(told: Assessment) -> None:
    """A title, three sentences, a meaning, advice, limits and cautions: always."""
    words = told.words
    assert words.title
    assert len(words.summary) == 3
    assert words.meaning
    assert words.advice
    assert len(words.limits) == 6
    assert len(words.cautions) >= 6
    assert set(words.labels) >= {"meaning", "advice", "limits", "cautions", "within", "beyond"}
    assert told.screening.outcome in OUTCOMES


def test_every_sentence_has_a_key(told: Assessment) -> None:
    """Each sentence shown can be overruled by its key."""
    assert set(sentences(told)) == set(told.words.sentences.values())


def test_sentences_are_whole(told: Assessment) -> None:
    """Each sentence is filled in, begins with a capital, ends with a stop, says no NaN."""
    for sentence in sentences(told)[1:]:
        assert not re.search(r"[{}]|\bnan\b|\binf\b|None|-0\b(?!\.)", sentence), sentence
        assert sentence[0].isupper(), sentence
        assert sentence.endswith("."), sentence
        assert "  " not in sentence, sentence


OVERCLAIMS = ("is safe", "unsafe foundation", "failed", "failure", "guarantee", "certainly")


def test_nothing_is_overclaimed(told: Assessment) -> None:
    """No verdict on safety or failure; one visit never proves movement."""
    text = " ".join(sentences(told)).lower()
    assert not [claim for claim in OVERCLAIMS if claim in text]
    assert "it never proves that anything has moved" in text
    assert "it is not engineering" in text


def test_every_figure_of_the_summary_has_its_doubt(told: Assessment) -> None:
    """A height or slope in the summary is followed by its give-or-take, and 95 % is said."""
    first, second, _ = told.words.summary
    about = re.findall(r"about -?[\d.]+ (?:in|mm)\b", first + second)
    assert len(about) == (first + second).count("give or take")
    assert ("95 %" in first) == bool(about)


def test_new_slabs_are_not_level(told: Assessment) -> None:
    """0.53 in (13.5 mm) on average in new slabs: Walsh, Bashford & Mason 2001."""
    said = [s for s in told.words.meaning if "Walsh, Bashford and Mason 2001" in s]
    assert len(said) == 1
    assert "0.53 in (13.5 mm)" in said[0]


def test_new_slabs_are_not_held_against_a_floor_on_piers() -> None:
    """The figure on new slabs is left out where the house has none."""
    told = assess(small_book(property={"foundation": "pier-and-beam"}))
    assert not [s for s in told.words.meaning if "Walsh" in s]


CABLES = [
    ({"post_tensioned": True}, "must not be cut, drilled or cored without a specialist"),
    ({"foundation": "slab-on-ground"}, "until that is known, it must not be cut"),
    ({}, "until that is known, it must not be cut"),
    ({"post_tensioned": False}, None),
    ({"foundation": "crawl-space"}, None),
]


@pytest.mark.parametrize(("house", "said"), CABLES)
def test_post_tensioned_slabs_must_not_be_cut(house: dict[str, object], said: str | None) -> None:
    """The caution on cables stands wherever there may be some."""
    cautions = " ".join(assess(small_book(property=house)).words.cautions).lower()
    assert ("cables" in cautions) == (said is not None)
    assert said is None or said in cautions


FALLS = [
    (None, "the left of the plan"),
    (0, "the west"),
    (45, "the south-west"),
    (90, "the south"),
    (180, "the east"),
    (-90, "the north"),
]


@pytest.mark.parametrize(("north", "toward"), FALLS)
def test_which_way_the_floor_falls(north: float | None, toward: str) -> None:
    """A floor that rises to the right of the sheet falls to the left: west with north up."""
    house = {} if north is None else {"north": north}
    first, *_ = assess(small_book(plane(0.0075), property=house)).words.summary
    assert f"falls toward {toward} by about 1.80 in for every 20 ft" in first


def test_no_direction_without_proof() -> None:
    """A slope that its doubt swallows has no direction."""
    first, *_ = assess(small_book(plane(0.0001))).words.summary
    assert "no clear fall to one side" in first


def test_spread_readings_are_told() -> None:
    """Where closing readings disagree by far more than stated, the words say so."""
    book = small_book(flat)
    again = tuple(
        r.model_copy(update={"id": f"x{r.id}", "value": f"{0.25 * (-1) ** i}"})
        for i, r in enumerate(book.readings)
    )
    told = assess(book.model_copy(update={"readings": book.readings + again}))
    assert any("scatter more than their stated" in c for c in told.words.cautions)


def test_areas_of_one_kind_go_by_their_names() -> None:
    """Two living areas are told apart by their ids."""
    wing = {"id": "wing", "kind": "living", "outline": [[50, 0], [60, 0], [60, 10], [50, 10]]}
    told = assess(small_book(areas={"wing": wing}))
    assert "the floor of the area “house”" in told.words.summary[0]
    assert any(
        "area “wing” only 0 of the 5 stations needed were read" in c for c in told.words.cautions
    )


def test_another_area_is_told_of_beside_the_main_one() -> None:
    """The summary is about the area that weighs most; the others have a sentence each."""
    book = small_book(plane(0.0075))
    corners = [[0, 0], [18, 0], [18, 24], [0, 24]]
    left = book.areas[0].model_copy(update={"outline": tuple(map(tuple, corners))})
    right = left.model_copy(
        update={"id": "wing", "kind": "addition", "outline": ((18, 0), (36, 0), (36, 24), (18, 24))}
    )
    stations = tuple(
        s.model_copy(update={"area": "wing"}) if s.at[0] > 18 else s for s in book.stations
    )
    level = tuple(
        r.model_copy(update={"value": "1.62"}) if s.area == "wing" else r
        for r, s in zip(book.readings, stations, strict=True)
    )
    update = {"areas": (left, right), "stations": stations, "readings": level}
    told = assess(book.model_copy(update=update))
    assert "the floor of the house" in told.words.summary[0]
    assert "The addition, judged by itself: nothing unusual." in told.words.meaning


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("2026-12-24", "December 24, 2026"),
        ("2026-12-24T10:00", "December 24, 2026"),
        ("2026", "2026"),
    ],
)
def test_the_day_of_the_visit(written: str, said: str) -> None:
    """A date is told in words, and as written where it is no whole date."""
    book = small_book(flat)
    visit = book.visit.model_copy(update={"date": written})
    assert Phrases(book.model_copy(update={"visit": visit}), TELLER, {}).date() == said


TELLER = Teller(WORDING, Wishes({}, ()))


def test_small_numbers_of_places_and_no_line() -> None:
    """One place, several places, and a floor too small for a line."""
    phrases = Phrases(small_book(flat), TELLER, {})
    assert (phrases.places(1), phrases.places(2)) == ("one place", "2 places")
    assert phrases.line(None) == "no line over it is long enough to measure a bend"


@pytest.mark.parametrize(
    ("value", "sd", "said"),
    [
        (0.0, 0.0, "none"),
        (0.0, 0.001, "flatter than 1 in 510"),
        (0.005, 0.0005, "1 in 200, between 1 in 160 and 1 in 250"),
    ],
)
def test_a_slope_is_told_with_the_doubt_it_has(value: float, sd: float, said: str) -> None:
    """A slope is one in so much with its range, flatter than that, or none; never a bare figure."""
    told = assess(small_book(plane(0.008)))
    found = next(f for f in told.findings if f.unit == "ratio" and f.value is not None)
    phrases = Phrases(told.book, Teller(WORDING, Wishes({}, ())), {})
    assert said in phrases.figure(replace(found, value=value, sd=sd))
