"""Passwords: which are taken, how they are kept, and how they are checked.

Kept with Argon2id by the second recommended option of RFC 9106, section 4: 3 passes over
64 MiB in 4 lanes, 128 bits of salt, 256 bits of tag. The OWASP Password Storage Cheat Sheet
asks for at least 19 MiB and 2 passes in one lane. What is taken follows NIST SP 800-63B,
section 5.1.1.2: a length, no rules of composition, nothing that tells who one is, no repeated
or sequential characters, nothing that is known to be common. The lists of common passwords,
names and words, and the estimate of how many guesses a text built of them takes, are those of
``zxcvbn`` (Wheeler 2016, "zxcvbn: Low-Budget Password Strength Estimation", USENIX Security).
"""

import re
import threading
import unicodedata
from collections.abc import Iterable
from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.profiles import RFC_9106_LOW_MEMORY
from zxcvbn import zxcvbn

from levelbook.errors import UsageError
from levelbook.firm.tokens import new_token

SHORTEST, LONGEST = 12, 128
LEAST_FREE = 8
"""How many characters must not follow from the two before them."""
LEAST_GUESSES = 10**9
"""Guesses that a password must take at the least, by estimate.

From 10⁸ on the library itself calls a password safe while its hash is slow and kept; one common
word said twice, or with a year, lies just above that, and two words that do not belong together
above this. The waits after failures allow some hundred guesses a day.
"""
LOOKED_AT = 72
"""Characters at the beginning of a password whose guesses are estimated: enough to know."""
_ESTIMATING = threading.Lock()
"""Held while guesses are estimated: the library keeps words of its caller in one place for all."""
_LOOKALIKES = tuple(str.maketrans("03457@$!1", f"oeastasi{one}") for one in "il")
_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm", "qwertzuiop", "azertyuiop")


class Passwords:
    """Hashes and checks passwords; a check costs the same whether there is one or not."""

    def __init__(self, hasher: PasswordHasher | None = None) -> None:
        self._hasher = hasher or PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)
        self.dummy = self._hasher.hash(new_token())

    def hash(self, password: str) -> str:
        """Return what is kept of a password: parameters, salt and tag."""
        return self._hasher.hash(plain(password))

    def check(self, kept: str | None, password: str) -> bool:
        """Tell whether a password is the one kept.

        Where none is kept, one that nobody knows is checked in its place, so that the time
        tells nothing.
        """
        try:
            right = self._hasher.verify(kept or self.dummy, plain(password))
        except (VerificationError, InvalidHashError):
            return False
        return right and kept is not None

    def is_old(self, kept: str) -> bool:
        """Tell whether a password was kept with other parameters than today's."""
        return self._hasher.check_needs_rehash(kept)


def plain(password: str) -> str:
    """Return a password in the one form (NFKC) that every keyboard's way of typing it gives."""
    return unicodedata.normalize("NFKC", password)


def judge(password: str, about: Iterable[str]) -> None:
    """Refuse a password that is too easily guessed.

    Parameters
    ----------
    password
        As typed.
    about
        What others know of the person: e-mail address, name, firm.

    Raises
    ------
    UsageError
        With what is wrong and what to do.
    """
    text, known = plain(password).casefold(), tuple(about)
    if not SHORTEST <= len(text) <= LONGEST:
        problem = f"this has {len(text)} characters"
        remedy = f"take {SHORTEST} to {LONGEST}; a few words you can remember are good"
        raise UsageError("password", problem, remedy)
    forms = (text, *(text.translate(table) for table in _LOOKALIKES))
    if any(word in form for word in _words(known, 4) for form in forms):
        problem = "this holds a part of your name, your e-mail address or your firm's name"
        raise UsageError("password", problem, "take words that have nothing to do with you")
    if _free(text) < LEAST_FREE:
        problem = "this repeats itself or follows a row of letters or digits"
        raise UsageError("password", problem, "take a few words that do not belong together")
    if _guesses(text, _words(known, 3)) < LEAST_GUESSES:
        problem = "this is a common password, or one built of what is tried first"
        remedy = "make it longer, of several words that do not belong together"
        raise UsageError("password", problem, remedy)


def _words(about: Iterable[str], shortest: int) -> list[str]:
    """Return the words of so many letters or more in what is known of a person."""
    split = (re.split(r"[\W_]+", plain(known).casefold()) for known in about)
    return [word for words in split for word in words if len(word) >= shortest]


def _guesses(text: str, known: Iterable[str]) -> float:
    """Return how many guesses a text takes by estimate, its known words left out."""
    for word in known:
        text = text.replace(word, "")
    with _ESTIMATING:
        return float(zxcvbn(text[:LOOKED_AT])["guesses"]) if text else 1.0


def _free(text: str) -> int:
    """Return how many characters of a text do not follow from those before them.

    A character follows if it goes on a step of −1, 0 or +1 in the alphabet, stands beside the
    one before it in a row of keys, or if the text up to it repeats its own beginning.
    """
    period = next(n for n in range(1, len(text) + 1) if _repeats(text, n))
    text = text[:period]
    followed = sum(
        1
        for (a, b), (c, d) in pairwise(pairwise(text))
        if (ord(b) - ord(a) == ord(d) - ord(c) and abs(ord(d) - ord(c)) <= 1)
        or (_beside(a, b) and _beside(c, d))
    )
    return len(text) - followed


def _repeats(text: str, period: int) -> bool:
    return text[period:] == text[:-period] if period < len(text) else True


def _beside(one: str, other: str) -> bool:
    pair = (one + other, other + one)
    return any(p in row for p in pair for row in _ROWS)
