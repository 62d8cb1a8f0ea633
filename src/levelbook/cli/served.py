"""How a firm's server may be reached: never without https from another machine."""

import re
from dataclasses import dataclass
from urllib.parse import urlsplit

from levelbook.errors import UsageError

_QUOTA = re.compile(r"([0-9]{1,7}),([0-9]{1,7}(?:\.[0-9]{1,3})?),([0-9]{1,7}(?:\.[0-9]{1,3})?)")
_MOST = 2_000_000
"""Photographs, and megabytes of a person, that the table of counts has room for in a day."""
LOOPBACK = ("127.0.0.1", "::1", "localhost")


@dataclass(frozen=True, slots=True)
class Served:
    """Where a server listens, where people find it, and who ends https."""

    host: str
    address: str
    secure: bool
    behind_proxy: bool


def check_served(served: Served) -> None:
    """Refuse a way of serving that would send passwords in the clear, or breaks its own rules.

    Raises
    ------
    UsageError
        With what to give in its place.
    """
    ends_https = served.secure or served.behind_proxy
    if served.host not in LOOPBACK and not ends_https:
        problem = "accounts are not served to other machines without https"
        remedy = "give --certificate and --key, or --behind-proxy where a proxy ends https"
        raise UsageError("--host", problem, remedy)
    if not served.address:
        if served.host not in LOOPBACK or served.behind_proxy:
            problem = "the address by which people come is not known"
            raise UsageError("--address", problem, "give it, such as https://levels.example.org")
        return
    parsed = urlsplit(served.address)
    plain = served.address.rstrip("/") == f"{parsed.scheme}://{parsed.netloc}"
    if not plain or not parsed.hostname or "@" in parsed.netloc:
        problem = "this is not scheme and host alone"
        raise UsageError("--address", problem, "give one such as https://levels.example.org")
    if parsed.scheme != ("https" if ends_https else "http"):
        problem = "the address must begin with https" if ends_https else "nothing here ends https"
        remedy = "write it so" if ends_https else "give --certificate and --key, or --behind-proxy"
        raise UsageError("--address", problem, remedy)


def check_quota(text: str) -> tuple[int, float, float]:
    """Return photographs and gigabytes a person and day, and gigabytes of a firm.

    Raises
    ------
    UsageError
        If these are not a whole number and two numbers, all above 0.
    """
    found = _QUOTA.fullmatch(text.replace(" ", ""))
    told = tuple(map(float, found.groups())) if found else ()
    if len(told) != 3 or min(told) <= 0 or told[0] > _MOST or told[1] > _MOST / 1000:
        problem = f"{text[:40]!r} is not a number of photographs and two of gigabytes"
        raise UsageError("--quota", problem, "give three above 0, such as 2000,5,1000")
    return int(told[0]), told[1], told[2]


def found_at(served: Served, port: int) -> str:
    """Return the address at which people find the server, without a slash at its end.

    On this machine it is by name: browsers make passkeys for names, not for numbers.
    """
    scheme = "https" if served.secure else "http"
    return served.address.rstrip("/") or f"{scheme}://localhost:{port}"
