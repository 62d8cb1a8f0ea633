"""Bytes in an S3-compatible object store.

The library for it is an extra, as few need it. Keys and place are found as its library finds
them: ``AWS_ACCESS_KEY_ID``, ``AWS_SECRET_ACCESS_KEY``, ``AWS_REGION``, ``AWS_ENDPOINT_URL``.
"""

import base64
import errno
import hashlib
from pathlib import Path
from typing import Any

from levelbook.archive.blobs import Folder, Shelf, check_names
from levelbook.errors import UsageError

ADDRESS = "s3://"
_ABSENT = ("404", "NoSuchKey", "NotFound")
_NO_ROOM = 507
"""The HTTP status of a store that is full (RFC 4918, section 11.5)."""


class Bucket:
    """Objects in a bucket, named PREFIX/FIRM/SHA256."""

    def __init__(self, bucket: str, prefix: str = "") -> None:
        self.bucket, self.prefix = bucket, prefix.strip("/")
        self._client, self._refusals = _client()

    def get(self, firm: str, sha256: str) -> bytes | None:
        """Return the bytes of an object, ``None`` if there is none."""
        found = self._ask("get_object", firm, sha256)
        if found is None:
            return None
        try:
            data: bytes = found["Body"].read()
        except self._refusals as error:
            raise ConnectionError(_told(error)) from None
        return data

    def put(self, firm: str, sha256: str, data: bytes) -> None:
        """Write an object; the store takes it whole, and checks that it is what was sent."""
        md5 = hashlib.md5(data, usedforsecurity=False).digest()
        self._ask("put_object", firm, sha256, Body=data, ContentMD5=base64.b64encode(md5).decode())

    def has(self, firm: str, sha256: str) -> bool:
        """Tell whether there is an object."""
        return self.size(firm, sha256) is not None

    def size(self, firm: str, sha256: str) -> int | None:
        """Return the size of an object, ``None`` if there is none."""
        found = self._ask("head_object", firm, sha256)
        return None if found is None else int(found["ContentLength"])

    def _ask(self, what: str, firm: str, sha256: str, **more: Any) -> Any:  # noqa: ANN401
        """Ask the store; ``None`` if it has no such object.

        Raises
        ------
        ConnectionError
            If it does not answer, or refuses.
        OSError
            If it has no room left.
        """
        check_names(firm, sha256)
        key = "/".join(part for part in (self.prefix, firm, sha256) if part)
        try:
            return getattr(self._client, what)(Bucket=self.bucket, Key=key, **more)
        except self._refusals as error:
            told = getattr(error, "response", None) or {}
            if what != "put_object" and told.get("Error", {}).get("Code", "") in _ABSENT:
                return None
            if told.get("ResponseMetadata", {}).get("HTTPStatusCode") == _NO_ROOM:
                raise OSError(errno.ENOSPC, _told(error)) from None
            raise ConnectionError(_told(error)) from None


def open_shelf(address: str) -> Shelf:
    """Return where bytes lie: ``s3://BUCKET/PREFIX``, or a folder.

    Raises
    ------
    UsageError
        If the address has no bucket, or the library for object stores is missing.
    """
    if not address.startswith(ADDRESS):
        return Folder(Path(address))
    bucket, _, prefix = address.removeprefix(ADDRESS).partition("/")
    if not bucket:
        raise UsageError(address, "this names no bucket", "write it as s3://BUCKET/PREFIX")
    return Bucket(bucket, prefix)


def _client() -> tuple[Any, tuple[type[Exception], ...]]:
    """Return a client of the object store, and the errors it raises."""
    try:
        import boto3
        from botocore.config import Config
        from botocore.exceptions import BotoCoreError, ClientError
    except ImportError:
        problem = "the library for object stores is not installed"
        raise UsageError(ADDRESS, problem, "run: pip install 'levelbook[s3]'") from None
    settings = Config(
        connect_timeout=10,
        read_timeout=60,
        retries={"max_attempts": 4, "mode": "standard"},
        request_checksum_calculation="when_required",
        response_checksum_validation="when_required",
    )
    return boto3.client("s3", config=settings), (BotoCoreError, ClientError)


def _told(error: Exception) -> str:
    return f"the object store could not be used: {' '.join(str(error).split())[:200]}"
