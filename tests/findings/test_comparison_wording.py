"""The words of a comparison: every key is used, none is missing, nothing is overclaimed."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from comparison_pairs import compared

import levelbook
from levelbook.findings.comparison import comparison_words
from levelbook.findings.wording import load_wording

WORDING = load_wording("en", "comparing")
SOURCE = Path(levelbook.__file__).parent
FILES = [
    *(SOURCE / "findings").glob("compar*.py"),
    *(SOURCE / "report").glob("compar*.py"),
    SOURCE / "cli" / "compare.py",
]
CODE = "\n".join(path.read_text("utf-8") for path in FILES)


def test_every_key_is_used() -> None:
    """Each sentence of the file is named in the code, or is a caveat, or ends a named stem."""
    stems = set(re.findall(r'f"([a-z-]+)\.\{', CODE))
    caveats = (SOURCE / "movement" / "caveats.py").read_text("utf-8")
    unused = [
        key
        for key in WORDING.templates
        if f'"{key}"' not in CODE
        and f'"{key.partition(".")[2]}"' not in (CODE + caveats)
        and key.partition(".")[0] not in stems - {"caveat", "statement", "quantity"}
    ]
    assert unused == []


@pytest.mark.parametrize("key", sorted(set(re.findall(r'say\("([a-z.-]+)"', CODE))))
def test_every_key_named_is_there(key: str) -> None:
    """No sentence is asked for that the file lacks."""
    base = load_wording().templates
    assert key in WORDING.templates or key in base


CLAIMS = ("caused by", "because of the", "defective", "liable", "must be repaired", "unsafe")


@pytest.mark.parametrize("size", [0.0, 0.6, 1.5])
def test_nothing_is_overclaimed(size: float) -> None:
    """No sentence names a cause, a fault or a danger, and the limits are always said."""
    words = comparison_words(compared(size))
    every = " ".join((*words.statement, *words.caveats, *words.method, *words.builder))
    assert not any(claim in every for claim in CLAIMS)
    assert "had the whole floor risen or sunk evenly" in words.statement[-1]
    assert "No bench mark outside the house" in words.caveats[0]
    assert "cause" in words.caveats[-1]
    assert any("terms of the warranty" in each for each in words.builder)
    assert any("neither legal advice" in each for each in words.builder)


def test_statement_leads_with_what_no_zero_touches() -> None:
    """Tilt, bend and range come first, in that order, each with its give-or-take."""
    first, second, third = comparison_words(compared(1.5)).statement[:3]
    assert "tilt" in first
    assert "bend" in second
    assert "highest and" in third
    assert "give or take" in second
    assert "give or take" in third


def test_nothing_moved_is_said_without_claiming_stillness() -> None:
    """Where nothing stands out, what could hide unseen is said."""
    told = " ".join(comparison_words(compared(0.0)).statement)
    assert "does not prove that nothing moved" in told
    assert "any change is less than" in told
    assert "depending on the place, cannot be told from the errors" in told


def test_a_corner_gone_down_is_named_with_its_figure() -> None:
    """The worst place stands in the statement with sign and give-or-take."""
    found = compared(1.5)
    worst = min(found.movements.stations, key=lambda i: found.movements.stations[i].moved or 0.0)
    told = next(s for s in comparison_words(found).statement if "stand out singly" in s)
    assert f"{worst}: −" in told


def test_one_place_that_stands_out_is_not_told_as_several() -> None:
    """The verb agrees with the number of places."""
    found = compared(1.5)
    out = [i for i, s in found.movements.stations.items() if s.significant]
    one = {i: replace(s, significant=i == out[0]) for i, s in found.movements.stations.items()}
    moved = replace(found.movements, stations=one)
    told = " ".join(comparison_words(replace(found, movements=moved)).statement)
    assert f"1 of {len(one)} stands out singly" in told
    assert f"{len(out)} of {len(one)} stand out" in " ".join(comparison_words(found).statement)


def test_tests_that_disagree_are_both_told() -> None:
    """Where the test of all places passes though single figures stand out, neither is hidden."""
    found = compared(1.5)
    passed = replace(found.congruence, moved=False)
    told = " ".join(comparison_words(replace(found, congruence=passed)).statement)
    assert "no more than the errors" in told
    assert "each in a test of its own" in told
    assert "does not prove that nothing moved" not in told
    for plain in (found, compared(0.0)):
        assert "test of its own" not in " ".join(comparison_words(plain).statement)


def test_chance_findings_are_told() -> None:
    """The method says how often each change would stand out though nothing moved."""
    told = " ".join(comparison_words(compared(0.0)).method)
    assert "by chance about one time in twenty" in told


def test_held_places_replace_the_missing_bench_mark() -> None:
    """With held places the words say against what every change is told."""
    words = comparison_words(compared(1.5, hold=("p1",)))
    assert "held as unmoved" in words.caveats[0]
    assert "held as unmoved" in words.statement[-1]
    assert any("One place chosen beforehand holds" in each for each in words.method)
    several = comparison_words(compared(1.5, hold=("p1", "p2")))
    assert any("2 places chosen beforehand hold" in each for each in several.method)
