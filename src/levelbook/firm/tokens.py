"""Secrets that are handed out once, and the digests by which they are known again.

A token has 256 random bits, so its plain SHA-256 tells nothing about it and needs no salt;
whoever reads the database can use none of them.
"""

import hashlib
import re
import secrets

_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")


def new_token() -> str:
    """Return 256 random bits as 43 characters that fit into an address."""
    return secrets.token_urlsafe(32)


def is_token(text: str) -> bool:
    """Tell whether a text has the form of a token, before anything is looked up by it."""
    return _TOKEN.fullmatch(text) is not None


def digest(*parts: str) -> str:
    """Return the SHA-256 of one or more texts, told apart by their lengths, in hex."""
    if len(parts) == 1:
        return hashlib.sha256(parts[0].encode()).hexdigest()
    framed = "".join(f"{len(part)}:{part}" for part in parts)
    return hashlib.sha256(framed.encode()).hexdigest()
