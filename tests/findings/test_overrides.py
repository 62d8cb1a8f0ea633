"""The inspector's own words: applied with a reason, the original kept, all else noticed."""

from typing import Any

import pytest
from small_books import plane, small_book

from levelbook.findings import Assessment, assess, assess_document


def with_wishes(wishes: object) -> Assessment:
    """Return the assessment of a steep floor with the inspector's wishes in its book."""
    return assess(small_book(plane(0.0075), visit={"extra": {"wording": wishes}}))


PLAIN = assess(small_book(plane(0.0075)))
WISH = {
    "key": "advice.water",
    "text": "Mend the gutter at the rear before anything else.",
    "reason": "It empties beside the wall.",
    "by": "A. Surveyor",
}


def test_a_sentence_is_replaced_and_the_original_kept() -> None:
    """The new words stand in the old place; the record tells both, the reason and by whom."""
    told = with_wishes([WISH])
    assert told.words.advice == (*PLAIN.words.advice[:-1], WISH["text"])
    (kept,) = told.words.overrides
    assert kept.original == PLAIN.words.advice[-1]
    assert (kept.key, kept.text, kept.reason, kept.by) == tuple(WISH.values())
    assert told.words.sentences["advice.water"] == WISH["text"]
    assert told.warnings == PLAIN.warnings


def test_a_reason_of_one_area_is_replaced() -> None:
    """A sentence that belongs to an area has the area in its key."""
    wish = WISH | {"key": "reason.slope-alone:house"}
    told = with_wishes([wish])
    assert told.screening.reasons == (WISH["text"],)
    assert WISH["text"] in told.words.meaning


@pytest.mark.parametrize("key", sorted(PLAIN.words.sentences))
def test_every_sentence_shown_can_be_replaced(key: str) -> None:
    """No sentence is out of the inspector's reach."""
    told = with_wishes([WISH | {"key": key}])
    assert [o.key for o in told.words.overrides] == [key]
    assert told.words.sentences[key] == WISH["text"]


OUTCOME = {
    "key": "screening.outcome",
    "text": "ask an engineer",
    "reason": "The doors were planed.",
}


def test_the_outcome_is_overruled_with_both_shown() -> None:
    """The inspector's outcome stands, and the program's is told with the reason."""
    told = with_wishes([OUTCOME])
    assert told.screening.outcome == "ask an engineer"
    overruled = told.screening.overruled
    assert overruled is not None
    assert (overruled.original, overruled.reason) == ("keep watching", OUTCOME["reason"])
    assert told.words.title == "Ask a licensed structural engineer to look at this house"
    assert "“keep watching”" in told.words.meaning[0]
    assert OUTCOME["reason"] in told.words.meaning[0]
    assert told.screening.reasons == PLAIN.screening.reasons
    screening: Any = assess_document(told)["screening"]
    assert screening["overruled"]["original"] == "keep watching"


def test_an_outcome_that_agrees_overrules_nothing() -> None:
    """An outcome equal to the program's is no change."""
    told = with_wishes([OUTCOME | {"text": "keep watching"}])
    assert told.screening == PLAIN.screening
    assert "overruled" not in assess_document(told)["screening"]


BAD: list[tuple[object, str]] = [
    ("words", "visit.extra.wording: this must be a list"),
    ({"key": "advice.water"}, "visit.extra.wording: this must be a list"),
    (["words"], "visit.extra.wording[0]: this must be a table"),
    ([{"text": "x", "reason": "y"}], "a key is missing"),
    ([{"key": 5, "text": "x", "reason": "y"}], "a key is missing"),
    ([{"key": "advice.water", "reason": "y"}], "a text is missing"),
    ([WISH | {"text": "x" * 3000}], "a text is missing, or longer than 2000"),
    ([{"key": "advice.water", "text": "x"}], "words are replaced only with a reason"),
    ([WISH | {"reason": "  "}], "words are replaced only with a reason"),
    ([WISH | {"key": "advice.oops"}], "no sentence of this report has the key “advice.oops”"),
    (
        [WISH, WISH | {"text": "Other."}],
        "visit.extra.wording[1]: the key “advice.water” is replaced twice",
    ),
    ([OUTCOME | {"text": "all is well"}], "“all is well” is no outcome; choose from: nothing"),
    ([OUTCOME | {"reason": None}], "words are replaced only with a reason"),
]


@pytest.mark.parametrize(("wishes", "said"), BAD, ids=[b[1][:40] for b in BAD])
def test_a_wish_that_cannot_be_followed_is_noticed(wishes: object, said: str) -> None:
    """Nothing is replaced silently or without a reason: the notice says why it was not."""
    told = with_wishes(wishes)
    added = told.warnings[len(PLAIN.warnings) :]
    assert len(added) == 1
    assert said in added[0]
    assert added[0].endswith("nothing was changed by it.")
    assert told.screening == PLAIN.screening
    first_stands = isinstance(wishes, list) and len(wishes) == 2
    assert len(told.words.overrides) == (1 if first_stands else 0)


def test_replacements_are_one_line() -> None:
    """Line breaks and runs of blanks in the inspector's words become one blank."""
    told = with_wishes([WISH | {"text": " Mend\n the\t gutter. "}])
    assert told.words.advice[-1] == "Mend the gutter."
