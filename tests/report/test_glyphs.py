"""What the typeface cannot show is replaced visibly, and nothing else is touched."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from levelbook.report.glyphs import BREAK, LONGEST_RUN, MISSING, breakable, screen, supported


def test_the_stand_in_can_be_shown() -> None:
    """The sign that stands for a missing character is in the typeface itself."""
    assert MISSING in supported()


@pytest.mark.parametrize("kept", ["Größe ½ × 3 °", "−0.85 ± 0.06", "#{x} *b* <i>", "Ωμέγα, Юг"])
def test_text_in_the_typeface_stays(kept: str) -> None:
    """Accents, signs, other alphabets that the typeface has, and markup stay as they are."""
    assert screen(kept) == (kept, 0)


def test_missing_characters_are_replaced_and_counted() -> None:
    """Emoji, other scripts and control characters each leave one visible sign."""
    assert screen("a🏠b שלום \x07") == (f"a{MISSING}b {MISSING * 4} {MISSING}", 6)


def test_a_sign_of_the_user_is_not_counted() -> None:
    """The stand-in itself, written by a user, is no missing character."""
    assert screen(f"{MISSING}🏠") == (MISSING * 2, 1)


def test_accents_typed_apart_are_joined() -> None:
    """A letter with its accent typed as two characters is shown as one."""
    assert screen("Cafe\u0301") == ("Café", 0)


def test_hidden_direction_marks_cannot_turn_text() -> None:
    """Characters that reverse what follows are shown as missing, joiners vanish."""
    assert screen("a\u202eb\u200dc") == (f"a{MISSING}bc", 1)


@given(st.text(max_size=60))
def test_everything_screened_can_be_shown(text: str) -> None:
    """Whatever is written, what is printed is in the typeface."""
    shown, missing = screen(text)
    assert set(shown) <= supported()
    assert screen(shown) == (shown, 0)
    assert missing <= shown.count(MISSING)


@given(st.text(alphabet="ab ", max_size=90))
def test_long_runs_can_break_and_lose_nothing(text: str) -> None:
    """No run is longer than its limit without a place to break, and no character is lost."""
    broken = breakable(text)
    assert broken.replace(BREAK, "") == text
    assert all(
        len(piece) <= LONGEST_RUN for word in broken.split(" ") for piece in word.split(BREAK)
    )
