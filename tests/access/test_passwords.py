"""Passwords: how they are kept, and which are taken."""

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.low_level import Type
from hypothesis import given
from hypothesis import strategies as st
from two_firms import quick

from levelbook.errors import UsageError
from levelbook.firm.passwords import LONGEST, SHORTEST, Passwords, judge

ABOUT = ("ann.field@alder-ridge.example", "Ann Field", "Alder Ridge Levels")


def test_they_are_kept_by_published_parameters():
    """Argon2id with 3 passes, 64 MiB and 4 lanes, a salt of 128 and a tag of 256 bits.

    RFC 9106, section 4, second recommended option; the OWASP Password Storage Cheat Sheet asks
    for at least 19 MiB, 2 passes and 1 lane.
    """
    passwords = Passwords()
    kept = extract_parameters(passwords.hash("seven grey herons walking"))
    assert (kept.type, kept.version) == (Type.ID, 19)
    assert (kept.time_cost, kept.memory_cost, kept.parallelism) == (3, 64 * 1024, 4)
    assert (kept.salt_len, kept.hash_len) == (16, 32)
    assert extract_parameters(passwords.dummy) == kept
    assert kept.memory_cost >= 19 * 1024
    assert kept.time_cost >= 2


def test_one_of_older_parameters_is_told():
    """What was kept with other parameters still opens, and is told to be old."""
    old, new = quick(), Passwords(PasswordHasher(time_cost=2, memory_cost=16, parallelism=1))
    kept = old.hash("seven grey herons walking")
    assert new.check(kept, "seven grey herons walking")
    assert new.is_old(kept)
    assert not new.is_old(new.hash("seven grey herons walking"))


@given(st.text(min_size=1, max_size=40).filter(str.isprintable), st.text(min_size=1, max_size=40))
def test_only_the_password_itself_opens(password, other):
    """A password opens what was kept of it; another text does not unless it is the same word."""
    import unicodedata

    passwords = quick()
    kept = passwords.hash(password)
    assert passwords.check(kept, password)
    same = unicodedata.normalize("NFKC", password) == unicodedata.normalize("NFKC", other)
    assert passwords.check(kept, other) is same


def test_keyboards_may_differ():
    """A letter typed as one sign or as letter and accent is the same password."""
    passwords = quick()
    assert passwords.check(
        passwords.hash("caf\u00e9 under ten stones"), "cafe\u0301 under ten stones"
    )


@pytest.mark.parametrize(
    "password",
    [
        "seven grey herons walking",
        "a lantern under nine apples",
        "grüne Katze läuft schnell",
        "vT9#kq!Lw2zR",
        "1 heron 2 herons 3 herons",
        "q" + "x7" * 3 + "lantern apple",
        "🦩 walks over seven apples",
        "w" * 3 + " heron lantern " + "z" * 100,
    ],
)
def test_good_ones_are_taken(password):
    """A few words, or a machine's random signs, in any script; no rules of composition."""
    judge(password, ABOUT)


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("short one", "9 characters"),
        ("x" * 11, "11 characters"),
        ("x1y2z3 " * 30, "210 characters"),
        ("a" * 12, "repeats"),
        ("abcabcabcabcabc", "repeats"),
        ("hahahahahahaha", "repeats"),
        ("abcdefghijklmnop", "row"),
        ("123456789012", "row"),
        ("987654321098", "row"),
        ("qwertyuiopasdf", "row"),
        ("QWERTZUIOP1234", "row"),
        ("my ann.field secret", "your name"),
        ("FIELD of golden corn", "your name"),
        ("the ridge is long and blue", "your name"),
        ("ａｌｄｅｒ trees are green", "your name"),
    ],
)
def test_easy_ones_are_refused(password, why):
    """Too short, too long, repeating, in rows, or with what others know of the person."""
    with pytest.raises(UsageError) as refused:
        judge(password, ABOUT)
    assert why in refused.value.problem
    assert refused.value.place == "password"
    assert password not in str(refused.value)


@pytest.mark.parametrize(
    "password",
    [
        "password1234",
        "Password12345!",
        "P@ssw0rd123456",
        "letmein letmein1",
        "iloveyou2025!",
        "drowssap drowssap1",
        "welcome12345!",
        "football2024!!",
        "Summer2025!!!",
        "trustno1trustno2",
        "michael19851985",
        "annannann 2026!",
    ],
)
def test_common_ones_are_refused(password):
    """Known ones, in whatever dress: with digits, signs, capitals, backwards, said twice."""
    with pytest.raises(UsageError) as refused:
        judge(password, ABOUT)
    assert refused.value.place == "password"
    assert "words" in refused.value.remedy
    assert password not in str(refused.value)


@pytest.mark.parametrize(
    "password",
    ["4nn f13ld and 0ther", "r1dge l3v3ls of old", "my @lder is tall", "A L D E R alder x"],
)
def test_names_in_other_dress_are_refused(password):
    """Digits and signs that look like letters hide no name."""
    with pytest.raises(UsageError, match="your name"):
        judge(password, ABOUT)


def test_short_names_do_not_carry_a_password():
    """A name of three letters may stand in it, and counts for nothing."""
    judge("planning nine calm herons", ABOUT)
    with pytest.raises(UsageError, match="common password"):
        judge("ann 2 ann 3 ann 4", ABOUT)


@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=200))
def test_whatever_is_typed_is_judged(password):
    """Any text is either taken or refused in words; only lengths within the limits are taken."""
    try:
        judge(password, ABOUT)
    except UsageError:
        return
    import unicodedata

    assert SHORTEST <= len(unicodedata.normalize("NFKC", password).casefold()) <= LONGEST
