"""The drawing file opens without repair, and everything lies where the book and results say."""

import io

import ezdxf
import ezdxf.document
import numpy as np
import pytest
from exchange_books import NAMES, book_of, groups_that_share
from group_codes import Entity, entities, header, layers

from levelbook.exchange.contour_lines import contour_lines
from levelbook.exchange.drawing_file import drawing_file
from levelbook.findings import assess
from levelbook.findings.model import Assessment


def on(found: list[Entity], layer: str, kind: str) -> list[Entity]:
    """Return the entities of one kind on a layer."""
    return [e for e in found if (e.layer, e.kind) == (layer, kind)]


def place(entity: Entity) -> tuple[float, float]:
    """Return an entity's first point."""
    return float(entity.first(10)), float(entity.first(20))


@pytest.fixture(scope="module")
def drawn(demo: Assessment) -> bytes:
    """Return the demo house as a drawing file."""
    return drawing_file(demo)


def test_opens_without_repair(drawn: bytes) -> None:
    """The audit of another reader of the format finds nothing to mend."""
    audit = ezdxf.read(io.StringIO(drawn.decode("utf-8"))).audit()
    assert (audit.errors, audit.fixes) == ([], [])


def test_units_are_real(drawn: bytes, demo: Assessment) -> None:
    """The header says feet (2) or metres (6), as its reference has them."""
    assert demo.book.units.plan == "ft"
    assert header(drawn)["$INSUNITS"] == "2"
    metric = book_of(
        [("A", "p", "t", "1"), ("A", "q", "t", "2")], units={"level": "mm", "plan": "m"}
    )
    assert header(drawing_file(assess(metric)))["$INSUNITS"] == "6"


def test_every_layer_is_in_the_table(drawn: bytes) -> None:
    """No entity lies on a layer that the table does not have."""
    assert {e.layer for e in entities(drawn)} <= layers(drawn)


def test_levels_stand_at_their_stations(drawn: bytes, demo: Assessment) -> None:
    """A point a station, its z the level in plan units, to 1e-6."""
    found = entities(drawn)
    points = [e for e in found if e.layer.startswith("LEVELS-3D") and e.kind == "POINT"]
    told = {place(e): float(e.first(30)) for e in points}
    levels = demo.levels.stations
    due = {s.at: levels[s.id].level / 12 for s in demo.book.stations if s.id in levels}
    assert len(points) == len(levels)
    assert np.array(sorted(told)) == pytest.approx(np.array(sorted(due)), abs=1e-6)
    for at, z in due.items():
        nearest = min(told, key=lambda p, at=at: abs(p[0] - at[0]) + abs(p[1] - at[1]))
        assert told[nearest] == pytest.approx(z, abs=1e-6)


def test_levels_are_told_with_their_doubt(drawn: bytes, demo: Assessment) -> None:
    """A level as text has half of its 95 % interval beside it; the zero alone has none."""
    texts = on(entities(drawn), "LEVELS-TEXT", "TEXT")
    assert len(texts) == len(demo.levels.stations)
    bare = [e for e in texts if "±" not in e.first(1)]
    assert len(bare) == len(demo.levels.groups)


def test_outlines_walls_and_sections(drawn: bytes, demo: Assessment) -> None:
    """Each polyline has the corners of the book, closed where it is an outline."""
    found = entities(drawn)
    rings = [ring for a in demo.book.areas for ring in (a.outline, *a.holes)]
    outlines = on(found, "OUTLINE", "LWPOLYLINE")
    for made, ring in zip(outlines, rings, strict=True):
        assert np.array(made.points()) == pytest.approx(np.array(ring), abs=1e-6)
        assert int(made.first(70)) & 1
    for made, wall in zip(on(found, "WALLS", "LWPOLYLINE"), demo.book.walls, strict=True):
        assert np.array(made.points()) == pytest.approx(np.array(wall), abs=1e-6)
    lines = on(found, "SECTIONS", "LINE")
    ends = [((float(e.first(10)), float(e.first(20))), (float(e.first(11)), float(e.first(21))))
            for e in lines]  # fmt: skip
    for got, section in zip(ends, demo.book.sections, strict=True):
        assert got[0] == pytest.approx(section.line[0], abs=1e-6)
        assert got[1] == pytest.approx(section.line[1], abs=1e-6)


def test_contours_lie_at_their_level(drawn: bytes, demo: Assessment) -> None:
    """Contours have the corners that were computed, at their elevation in plan units."""
    found = entities(drawn)
    layers = ("CONTOURS", "CONTOURS-2")
    made = [e for name in layers for e in on(found, name, "LWPOLYLINE")]
    due = [line for _, _, lines in contour_lines(demo) for line in lines]
    assert len(due) > 5
    for entity, line in zip(made, due, strict=True):
        assert float(entity.first(38)) == pytest.approx(line.level / 12, abs=1e-6)
        assert np.array(entity.points()) == pytest.approx(line.line, abs=1e-6)


def test_contours_of_a_garage_stand_apart(drawn: bytes, demo: Assessment) -> None:
    """A floor with a zero of its own has its contours on a layer of its own."""
    count = {shape.group: len(lines) for shape, _, lines in contour_lines(demo)}
    found = entities(drawn)
    assert len(on(found, "CONTOURS", "LWPOLYLINE")) == count["g1"]
    assert len(on(found, "CONTOURS-2", "LWPOLYLINE")) == count["g2"] > 0


def test_groups_stand_apart() -> None:
    """Stations that nothing connects stand on layers of their own, and a note says so."""
    assessment = assess(groups_that_share())
    found = entities(drawing_file(assessment))
    counts = {
        name: len(on(found, name, "POINT")) for name in ("LEVELS-3D", "LEVELS-3D-2", "LEVELS-3D-3")
    }
    assert counts == {"LEVELS-3D": 2, "LEVELS-3D-2": 2, "LEVELS-3D-3": 2}
    notes = " ".join(e.first(1) for e in on(found, "NOTES", "TEXT"))
    assert "LEVELS-3D-3" in notes


@pytest.mark.parametrize("name", [*NAMES, "a%%ub", "x^J", "\\U+0041", "line\u2028end", "é漢"])
def test_odd_names_keep_the_file_whole(name: str) -> None:
    """Whatever a station, a finish or a label is called, the file opens without repair."""
    rows = [("A", name, "t", "1"), ("A", "other", "t", "2")]
    sections = [{"id": name, "line": [[0, 0], [5, 5]]}]
    house = {"label": name}
    data = drawing_file(assess(book_of(rows, sections=sections, property=house)))
    read = ezdxf.read(io.StringIO(data.decode("utf-8")))
    assert not read.audit().errors
    (told,) = [e.dxf.text for e in read.modelspace().query("TEXT[layer=='SECTIONS']")]
    assert "%%" not in told
    assert "\\U+" not in told


def test_the_same_book_gives_the_same_drawing(house: Assessment, monkeypatch) -> None:
    """Byte for byte, whatever the clock says."""
    first = drawing_file(house)

    class Later(ezdxf.document.datetime):  # type: ignore[name-defined,misc]
        """A clock that has moved on."""

        @classmethod
        def now(cls, tz=None):
            return cls(2031, 5, 4, 3, 2, 1, tzinfo=tz)

    monkeypatch.setattr(ezdxf.document, "datetime", Later)
    assert drawing_file(house) == first
