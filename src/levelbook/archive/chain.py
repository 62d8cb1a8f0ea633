"""The chain that binds each line of a firm's audit list to the one before it."""

import hashlib
from collections.abc import Mapping
from typing import Any

import rfc8785

BEGINNING = "0" * 64
"""What stands for the chain before the first line."""
TOLD = ("at", "person", "action", "subject", "detail")
"""What a line tells."""


def link(before: str, firm: str, row: Mapping[str, Any]) -> str:
    """Return the chain of a line: SHA-256 over the canonical JSON (RFC 8785) of all it tells."""
    told = [before, firm, *(row[name] for name in TOLD)]
    return hashlib.sha256(rfc8785.dumps(told)).hexdigest()
