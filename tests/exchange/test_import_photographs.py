"""The command import writes the photographs of a package beside the book."""

import hashlib
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from levelbook.book import read_book
from levelbook.exchange.package import package
from levelbook.findings import assess

Run = Callable[..., tuple[int, str, str]]


def picture(shade: int, kind: str = "JPEG") -> bytes:
    """Return a small picture of one shade."""
    out = io.BytesIO()
    Image.new("L", (8, 8), shade).save(out, kind)
    return out.getvalue()


@pytest.fixture
def pack(house_a: bytes, tmp_path: Path) -> Callable[..., Path]:
    """Return what packs the sample house with photographs by their names, some left out."""

    def packed(photos: dict[str, bytes], absent: tuple[str, ...] = ()) -> Path:
        document: dict[str, Any] = json.loads(house_a)
        digests = {name: hashlib.sha256(data).hexdigest() for name, data in photos.items()}
        document["photos"] = [
            {"id": f"f{k}", "sha256": digest.upper(), "name": name}
            for k, (name, digest) in enumerate(digests.items())
        ]
        inside = {digests[name]: data for name, data in photos.items() if name not in absent}
        book = read_book(json.dumps(document))
        path = tmp_path / "house.zip"
        path.write_bytes(package(assess(book), photos=inside))
        return path

    return packed


def test_they_lie_beside_the_book(run: Run, pack: Callable[..., Path], tmp_path: Path) -> None:
    """Both are there under their names, byte for byte; what is not in the package is told."""
    photos = {"crack.jpg": picture(1), "door.png": picture(2, "PNG"), "lost.jpg": picture(3)}
    target = tmp_path / "in" / "house.json"
    file = pack(photos, ("lost.jpg",))
    code, out, err = run("import", file, "--out", target)
    assert (code, err) == (0, "")
    assert {p.name for p in target.parent.iterdir()} == {"crack.jpg", "door.png", "house.json"}
    assert (target.parent / "crack.jpg").read_bytes() == photos["crack.jpg"]
    assert (target.parent / "door.png").read_bytes() == photos["door.png"]
    assert "Photographs written beside the book: 2." in out
    assert "not taken: photographs: lost.jpg; it is not in the file" in out
    code, report, _ = run("report", target, "--json")
    assert code in {0, 1}
    assert "crack.jpg" in Path(json.loads(report)["reports"][0]["files"][1]).read_text("utf-8")


def test_no_file_is_replaced(run: Run, pack: Callable[..., Path], tmp_path: Path) -> None:
    """Another file of the name stays and is told; the same photograph is no matter."""
    photos = {"crack.jpg": picture(1), "door.png": picture(2, "PNG")}
    file = pack(photos)
    (tmp_path / "crack.jpg").write_bytes(b"mine")
    (tmp_path / "door.png").write_bytes(photos["door.png"])
    code, out, _ = run("import", file, "--json")
    told = json.loads(out)
    assert code == 0
    assert told["photographs"] == []
    assert (tmp_path / "crack.jpg").read_bytes() == b"mine"
    (left,) = told["left"]
    assert (left["what"], left["why"][:31]) == ("crack.jpg", "another file of this name is th")


@pytest.mark.parametrize(
    "name", [".profile", "start.desktop", "photos/crack.jpg", "crack.png", "crack.jpg.exe"]
)
def test_only_pictures_under_plain_names(
    run: Run, pack: Callable[..., Path], tmp_path: Path, name: str
) -> None:
    """A hidden name, one of another kind or one in a folder is not written, and told."""
    code, out, _ = run("import", pack({name: picture(1)}), "--json")
    assert code == 0
    assert [left["what"] for left in json.loads(out)["left"]] == [name]
    assert {p.name for p in tmp_path.iterdir()} == {"house.zip", "house.json"}


def test_what_is_no_picture_is_not_written(
    run: Run, pack: Callable[..., Path], tmp_path: Path
) -> None:
    """Bytes that are no picture are left in the package, whatever their name."""
    code, out, _ = run("import", pack({"crack.jpg": b"#!/bin/sh\n"}), "--json")
    assert code == 0
    assert [left["what"] for left in json.loads(out)["left"]] == ["crack.jpg"]
    assert not (tmp_path / "crack.jpg").exists()
