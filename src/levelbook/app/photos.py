"""Photographs: taken in as bytes under their hash, looked at before they are kept."""

import hashlib
import io
import re
import warnings
from datetime import UTC, datetime
from pathlib import Path

from anyio import CapacityLimiter, to_thread
from PIL import Image, UnidentifiedImageError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from levelbook.app.answers import MEGABYTE, RefusedError, body
from levelbook.archive.blobs import Blobs, Folder
from levelbook.archive.moments import stamp
from levelbook.firm.quotas import Quotas
from levelbook.firm.roles import Who

LARGEST = 8 * MEGABYTE
MOST_PIXELS = 40_000_000
AT_ONCE = 3
"""Photographs looked at at once: as dots in memory each may take 160 MB."""
KINDS = {"JPEG": "image/jpeg", "PNG": "image/png"}
_HASH = re.compile(r"[0-9a-f]{64}")
_PLACE_TAG = 0x8825
"""The tag of EXIF under which a camera writes where it was."""


class Photos:
    """The photographs of a firm, kept by their SHA-256 among its files.

    What somebody may add is counted where there are ``quotas``; without them there is no limit.
    """

    def __init__(self, blobs: Blobs, quotas: Quotas | None = None, who: Who | None = None) -> None:
        self.blobs, self.quotas, self.who = blobs, quotas, who
        self.limit = CapacityLimiter(AT_ONCE)

    @property
    def folder(self) -> Path:
        """Return the folder that fills up as photographs come in."""
        shelf = self.blobs.shelf
        return shelf.path if isinstance(shelf, Folder) else Path()

    def of(self, who: Who) -> "Photos":
        """Return the photographs of somebody's firm, as they may see and add them."""
        theirs = Photos(self.blobs.of(who.firm), self.quotas, who)
        theirs.limit = self.limit
        return theirs

    def get(self, sha256: str) -> bytes | None:
        """Return a photograph's bytes, or ``None`` if it is not here.

        Raises
        ------
        DamagedError
            If it is not what was kept.
        """
        about = self.blobs.about(sha256)
        known = about is not None and about.media in KINDS.values()
        return self.blobs.get(sha256) if known else None

    def keep(self, sha256: str, data: bytes) -> None:
        """Keep a photograph.

        Raises
        ------
        RefusedError
            If the bytes have another hash, are no photograph, are too many dots, or tell the
            place where it was taken.
        TooManyError, NoRoomError
            If they are more than may be added.
        """
        if hashlib.sha256(data).hexdigest() != sha256:
            raise _refused("this is not the file that its name says", "send it again")
        check(data)
        now = datetime.now(UTC)
        if self.quotas is not None and self.who is not None and not self.blobs.has(sha256):
            self.quotas.take(self.who, len(data), now)
        self.blobs.put(data, kind_of(data), stamp(now))

    async def put(self, request: Request) -> Response:
        """Take a photograph in."""
        sha256 = _named(request)
        data = await body(request, LARGEST)
        await to_thread.run_sync(lambda: self.keep(sha256, data), limiter=self.limit)
        return JSONResponse({"sha256": sha256})

    async def show(self, request: Request) -> Response:
        """Answer with a photograph."""
        sha256 = _named(request)
        data = await run_in_threadpool(lambda: self.get(sha256))
        if data is None:
            raise RefusedError(404, sha256[:12], "this photograph is not here", "send it again")
        return Response(data, media_type=kind_of(data))


def check(data: bytes) -> None:
    """Refuse bytes that are no photograph of a kind and size that we keep.

    Raises
    ------
    RefusedError
        415 or 413, with what to do.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=tuple(KINDS)) as image:
                if image.width * image.height > MOST_PIXELS:
                    raise _refused("this picture has too many dots", "send a smaller one", 413)
                if _PLACE_TAG in image.getexif():
                    raise _refused("this picture tells where it was taken", "remove the place")
                image.load()
    except Image.DecompressionBombError:
        raise _refused("this picture has too many dots", "send a smaller one", 413) from None
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError):
        raise _refused("this is no JPEG or PNG picture that can be read", "send another") from None


def kind_of(data: bytes) -> str:
    """Return the media type of a kept photograph."""
    return "image/png" if data.startswith(b"\x89PNG") else "image/jpeg"


def _named(request: Request) -> str:
    sha256: str = request.path_params["sha256"]
    if not _HASH.fullmatch(sha256):
        raise RefusedError(404, "photo", "there is no such photograph", "check the address")
    return sha256


def _refused(problem: str, remedy: str, status: int = 415) -> RefusedError:
    return RefusedError(status, "photograph", problem, remedy)
