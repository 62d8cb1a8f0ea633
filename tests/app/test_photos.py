"""Photographs are looked at before they are kept; bad uploads get a clear answer."""

import hashlib
import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image
from starlette.testclient import TestClient

from levelbook.app.photos import LARGEST
from levelbook.app.server import make_app

BOOK = Path(__file__).resolve().parent.parent / "data" / "house-a.json"


@pytest.fixture
def client(tmp_path):
    """Give a client of a server over an empty store."""
    with TestClient(make_app(tmp_path), raise_server_exceptions=False) as made:
        yield made


def jpeg(**saving):
    """Return a small JPEG."""
    data = io.BytesIO()
    Image.new("RGB", (40, 30), (200, 90, 20)).save(data, "JPEG", **saving)
    return data.getvalue()


def bomb():
    """Return a small PNG that claims 60,000 × 60,000 dots."""

    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 1, 0, 0, 0, 0)
    data = zlib.compress(b"\0" * 1_000_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def with_place():
    """Return a JPEG that tells where it was taken."""
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif[0x8825] = {1: "N", 2: (30.0, 15.0, 0.0)}
    return jpeg(exif=exif)


def put(client, data, name=None):
    """Send a photograph."""
    return client.put(f"/api/photos/{name or hashlib.sha256(data).hexdigest()}", content=data)


def test_a_photograph_comes_back_as_it_was(client):
    """What is kept is served byte for byte, as a picture; sending twice is no harm."""
    data = jpeg()
    assert put(client, data).status_code == put(client, data).status_code == 200
    back = client.get(f"/api/photos/{hashlib.sha256(data).hexdigest()}")
    assert back.content == data
    assert back.headers["content-type"] == "image/jpeg"
    assert back.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    ("data", "status", "problem"),
    [
        (bomb(), 413, "too many dots"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", 415, "no JPEG"),
        (b"<!doctype html><script>1</script>", 415, "no JPEG"),
        (b"", 415, "no JPEG"),
        (jpeg()[:200], 415, "no JPEG"),
        (with_place(), 415, "where it was taken"),
    ],
    ids=["bomb", "svg", "page", "empty", "cut", "place"],
)
def test_what_is_no_photograph_is_refused(client, tmp_path, data, status, problem):
    """Each bad file is refused in words, and nothing of it stays."""
    answer = put(client, data)
    assert answer.status_code == status
    assert problem in answer.json()["error"]["problem"]
    assert list((tmp_path / "photos").iterdir()) == []


def test_a_huge_upload_is_refused_early(client):
    """More than 8 MB is refused by what the request says of itself, and while it arrives."""
    assert put(client, b"\0" * (LARGEST + 1)).status_code == 413
    huge = {"content-length": "200000000"}
    answer = client.put(f"/api/photos/{'0' * 64}", content=b"x", headers=huge)
    assert answer.status_code == 413


@pytest.mark.parametrize("name", ["..%2f..%2fetc%2fpasswd", "A" * 64, "0" * 63, "<script>"])
def test_no_other_name_leads_anywhere(client, name):
    """A photograph is known by its hash alone."""
    assert put(client, jpeg(), name).status_code in (404, 405)
    assert client.get(f"/api/photos/{name}").status_code == 404


def test_the_hash_must_be_its_own(client):
    """Bytes under another's hash are refused."""
    assert "not the file" in put(client, jpeg(), "0" * 64).json()["error"]["problem"]


def test_two_visits_are_compared(client):
    """Comparing a visit with itself finds no movement, and says what cannot be told."""
    visits = [
        client.post("/api/import", content=BOOK.read_bytes()).json()["visit"] for _ in range(2)
    ]
    told = client.get(f"/api/visits/{visits[0]}/compare/{visits[1]}").json()
    assert told["statement"]
    assert told["caveats"]
    assert all(not s["significant"] for s in told["stations"].values())
