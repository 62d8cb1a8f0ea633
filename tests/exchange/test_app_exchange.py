"""Files in and out at the server's addresses: planned, taken, undone, made, refused."""

import hashlib
import io
import json
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from levelbook.app.exchange_routes import LARGEST
from levelbook.app.server import make_app
from levelbook.book import canonical, read_book
from levelbook.demo import house
from levelbook.exchange.making import FORMATS
from levelbook.exchange.package import package
from levelbook.findings import assess

TABLE = b"station,x (ft),y (ft),reading (in),finish\n1,1,1,0.5,tile\n2,5,0,-0.3,tile\n3,5,5,x,oak\n"
ANSWERS = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "outline": "rectangle"}

Post = Callable[..., Any]


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """Give a client of a server over an empty store."""
    with TestClient(make_app(tmp_path), raise_server_exceptions=False) as made:
        yield made


def framed(file: bytes, name: str = "table.csv", **more: Any) -> bytes:
    """Return an import as the pages send it."""
    extra = {key: more.pop(key) for key in ("outline", "places") if key in more}
    sizes = {"file": len(file)} | {key: len(data) for key, data in extra.items()}
    head = json.dumps({"name": name, "sizes": sizes, "answers": {}} | more).encode()
    return head + b"\n" + file + b"".join(extra[k] for k in ("outline", "places") if k in extra)


@pytest.fixture
def send(client: TestClient) -> Post:
    """Give a sender of imports: status and what was answered."""

    def post(what: str, file: bytes, name: str = "table.csv", **more: Any) -> tuple[int, Any]:
        answer = client.post(f"/api/import/{what}", content=framed(file, name, **more))
        return answer.status_code, answer.json()

    return post


def written(visit: str, changes: list[dict[str, Any]], first: int = 0) -> list[dict[str, Any]]:
    """Return changes as entries of a device, the clock running on."""
    now = time.time_ns() // 1_000_000
    return [
        {"id": f"entry-{first + i:05}", "visit": visit, "device": "device01", "author": "A",
         "clock": f"{now:016d}-{first + i:04x}-device01", "made": "now", "do": "set", **change}
        for i, change in enumerate(changes)
    ]  # fmt: skip


def put(client: TestClient, visit: str, entries: list[dict[str, Any]]) -> None:
    """Send entries as a device does."""
    answer = client.post(f"/api/visits/{visit}/sync", json={"since": 0, "entries": entries})
    assert answer.status_code == 200, answer.text


def test_what_is_unclear_is_asked_then_taken(client: TestClient, send: Post) -> None:
    """First questions and a preview, then changes that make a house of it."""
    status, told = send("preview", TABLE)
    assert (status, told["ready"]) == (200, False)
    assert {question["key"] for question in told["questions"]} == set(ANSWERS)
    assert [row[1] for row in told["rows"]] == ["1", "2"]
    assert told["left"][0]["place"].endswith("row 4")
    status, told = send("take", TABLE, answers=ANSWERS)
    assert (status, told["ready"], told["label"]) == (200, True, "table")
    put(client, "visit-0001", written("visit-0001", told["head"] + told["changes"]))
    book = read_book(client.get("/api/visits/visit-0001/book").content)
    assert [reading.value for reading in book.readings] == ["0.5", "-0.3"]


def test_into_a_house_and_taken_back(client: TestClient, send: Post) -> None:
    """Readings go into a house begun; undo entries strike them and leave all else as it was."""
    _, told = send("take", TABLE, answers=ANSWERS)
    put(client, "visit-0001", written("visit-0001", told["head"] + told["changes"]))
    before = client.get("/api/visits/visit-0001/book").json()
    more = TABLE.replace(b"\n1,1,1,0.5", b"\n7,4,4,0.9")
    _, told = send("take", more, into="visit-0001", answers={"instrument": "I1"})
    assert told["head"] == []
    entries = written("visit-0001", told["changes"], 500)
    put(client, "visit-0001", entries)
    assert len(client.get("/api/visits/visit-0001/book").json()["readings"]) == 4
    undo = [
        {key: entry[key] for key in ("visit", "device", "author", "made")}
        | {"id": f"undo-{i:05}", "clock": entry["clock"].replace("-0", "-f", 1), "do": "undo",
           "undoes": entry["id"]}
        for i, entry in enumerate(entries)
    ]  # fmt: skip
    put(client, "visit-0001", undo)
    after = client.get("/api/visits/visit-0001/book").json()
    assert [reading.get("struck", False) for reading in after["readings"]] == [0, 0, 1, 1]
    assert after["readings"][:2] == before["readings"]
    assert after["areas"] == before["areas"]


def test_a_package_brings_its_photographs(client: TestClient, send: Post) -> None:
    """A house goes out with its photographs and comes in with them, letter for letter."""
    picture = io.BytesIO()
    Image.new("RGB", (8, 6), "grey").save(picture, "JPEG")
    key = hashlib.sha256(picture.getvalue()).hexdigest()
    document = json.loads(house())
    document["photos"] = [
        {"id": "f1", "sha256": key, "name": "a.jpg"},
        {"id": "f2", "sha256": "0" * 64, "name": "lost.jpg"},
    ]
    book = read_book(json.dumps(document))
    made = package(assess(book), photos={key: picture.getvalue()})
    _, seen = send("preview", made, "p.zip")
    assert seen["taken"][-1] == "Photographs: 1."
    assert client.get(f"/api/photos/{key}").status_code == 404
    _, told = send("take", made, "p.zip")
    assert client.get(f"/api/photos/{key}").content == picture.getvalue()
    assert [left["what"] for left in told["left"]] == ["lost.jpg"]
    put(client, "visit-0001", written("visit-0001", told["head"] + told["changes"]))
    assert canonical(read_book(client.get("/api/visits/visit-0001/book").content)) == canonical(
        book
    )


def test_an_outline_and_places_go_along(send: Post) -> None:
    """A table without places takes them, and the floor, from two further files."""
    outline = b'{"type": "Polygon", "coordinates": [[[0,0],[9,0],[9,9],[0,9],[0,0]]]}'
    answers = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "unit.drawing": "ft"}
    places = b"station,x (ft),y (ft)\n1,1,1\n2,5,5\n"
    table = b"station,reading (in)\n1,0.5\n2,0.7\n"
    status, told = send("take", table, answers=answers, outline=outline, places=places)
    assert status == 200, told
    assert told["ready"]
    (area,) = [c["fields"] for c in told["changes"] if c["kind"] == "area"]
    assert len(area["outline"]) == 4


@pytest.fixture
def visit(client: TestClient) -> str:
    """Take the demo house in and give its visit."""
    found: str = client.post("/api/import", content=house()).json()["visit"]
    return found


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_goes_out(client: TestClient, visit: str, name: str) -> None:
    """The size that is told is that of the file; its name is the house's in plain letters."""
    told = client.get(f"/api/visits/{visit}/exports/{name}?dpi=72").json()
    answer = client.get(f"/api/visits/{visit}/export/{name}?dpi=72")
    assert answer.status_code == 200
    assert len(answer.content) == told["bytes"] > 500
    assert f'filename="{told["file"]}"' in answer.headers["content-disposition"]
    assert told["file"].isascii()
    assert told["file"].endswith(FORMATS[name].ending.format(drawing="levels"))


def test_a_finer_picture_is_larger(client: TestClient, visit: str) -> None:
    """The resolution is that asked for."""
    sizes = []
    for dpi in (50, 100):
        data = client.get(f"/api/visits/{visit}/export/png?dpi={dpi}&drawing=error").content
        with Image.open(io.BytesIO(data)) as image:
            sizes.append(image.width)
    assert sizes[1] == pytest.approx(2 * sizes[0], abs=2)


def test_the_package_of_the_app_comes_in_again(client: TestClient, visit: str, send: Post) -> None:
    """What the app hands out for the engineer is a book for the app."""
    made = client.get(f"/api/visits/{visit}/export/package").content
    assert "report.pdf" in zipfile.ZipFile(io.BytesIO(made)).namelist()
    status, told = send("preview", made, "p.zip")
    assert (status, told["ready"], told["kind"]) == (200, True, "book")


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("export/docx", 400),
        ("export/png?dpi=5", 400),
        ("export/png?dpi=9999999999999999", 400),
        ("export/png?dpi=%C2%B2", 400),
        ("export/svg?drawing=roof", 400),
        ("export/dxf?criteria=none-such", 400),
        ("exports/docx", 400),
    ],
)
def test_what_cannot_be_made_is_told(
    client: TestClient, visit: str, address: str, status: int
) -> None:
    """Each refusal has the one shape."""
    answer = client.get(f"/api/visits/{visit}/{address}")
    assert answer.status_code == status
    assert set(answer.json()["error"]) == {"code", "place", "problem", "remedy"}


def test_a_house_without_readings_has_no_files_yet(client: TestClient) -> None:
    """It says what is missing."""
    head = [{"kind": "property", "of": "", "fields": {"label": "New"}}]
    put(client, "visit-0001", written("visit-0001", head))
    answer = client.get("/api/visits/visit-0001/export/dxf")
    assert answer.status_code == 422
    assert "no-readings" in {fault["code"] for fault in answer.json()["faults"]}


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"{}",
        b"{}\n",
        b"[]\nabc",
        b'{"name": "t", "sizes": {"file": 4}}\nabc',
        b'{"name": "t", "sizes": {"file": -3}}\nabc',
        b'{"name": "t", "sizes": {"file": true, "outline": 2}}\nabc',
        b'{"name": 3, "sizes": {"file": 3}}\nabc',
        b'{"name": "t", "sizes": {"file": 3}, "answers": []}\nabc',
        b'{"name": "t", "sizes": {"file": 3}, "into": 5}\nabc',
        b'{"name": "t", "sizes": [3]}\nabc',
        b"\xff\xfe\nabc",
        b"[" * 100_000,
    ],
)
@pytest.mark.parametrize("what", ["preview", "take"])
def test_requests_of_another_form_are_refused(client: TestClient, what: str, data: bytes) -> None:
    """A request that is no import is refused in the one shape."""
    answer = client.post(f"/api/import/{what}", content=data)
    assert answer.status_code == 400, answer.text
    assert set(answer.json()["error"]) == {"code", "place", "problem", "remedy"}


def test_a_visit_that_is_not_there(send: Post) -> None:
    """Nothing goes into a house that nobody has, or into an address that is none."""
    for into in ("visit-9999", "../x", ""):
        assert send("preview", TABLE, into=into)[0] == 404


def test_a_bad_answer_is_told(send: Post) -> None:
    """An answer that is none of the options is refused with its key."""
    status, told = send("preview", TABLE, answers={"sense": "sideways"})
    assert status == 422
    assert told["error"]["place"] == "answers.sense"


def test_a_file_beyond_the_limit(client: TestClient) -> None:
    """It is refused by its announced length, before it is sent."""
    headers = {"content-length": str(LARGEST + 1)}
    answer = client.post("/api/import/preview", content=b"x", headers=headers)
    assert answer.status_code == 413
    assert answer.json()["error"]["remedy"]
