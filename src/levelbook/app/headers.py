"""The headers that guard every answer: what a page may load, run, embed and remember.

A report is a file of its own with its script inside. The hashes of its style and script stand
in its head, written before anything a user wrote; the answer's policy repeats them, so that
no inline code but that file's own runs, and puts the file into a sandbox.
"""

import re

from starlette.types import Scope

_POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; font-src 'self'; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'; worker-src 'self'; manifest-src 'self'"
)
_FILE = (
    "default-src 'none'; {allowed}img-src data:; font-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'; sandbox allow-scripts"
)
_OWN = re.compile(
    rb'\s*<!doctype html>\s*<html lang="[\w-]{1,20}">\s*<head>\s*<meta charset="utf-8">\s*'
    rb'<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
    rb"style-src ('sha256-[A-Za-z0-9+/=]{44}'); script-src ('sha256-[A-Za-z0-9+/=]{44}');"
)
_HEADERS = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=(self)",
}
_KEEP_HTTPS = "max-age=31536000; includeSubDomains"
_THIS_MACHINE = (b"localhost", b"127.0.0.1", b"[::1]")
POLICY = "content-security-policy"


def guard_headers(scope: Scope) -> dict[str, str]:
    """Return the headers for an answer to the request of ``scope``.

    Under https the browser is told to come by https alone from then on (RFC 6797), but not
    at this machine's own name, which other programs share.
    """
    found = _HEADERS | {POLICY: _POLICY}
    if scope.get("scheme") == "https" and _host(scope) not in _THIS_MACHINE:
        found["strict-transport-security"] = _KEEP_HTTPS
    if scope["path"].startswith("/api/"):
        found["cache-control"] = "no-store"
    return found


def file_policy(html: bytes) -> str:
    """Return the policy for handing out an HTML file that carries its own style and script.

    Only the hashes that the file names in its head, before any text of a user, are allowed;
    a file that names none runs nothing.
    """
    named = _OWN.match(html)
    if named is None:
        return _FILE.format(allowed="")
    style, script = named[1].decode(), named[2].decode()
    return _FILE.format(allowed=f"style-src {style}; script-src {script}; ")


def _host(scope: Scope) -> bytes:
    host: bytes = next((v for k, v in scope["headers"] if k == b"host"), b"")
    return host.rpartition(b":")[0] if b":" in host and not host.endswith(b"]") else host
