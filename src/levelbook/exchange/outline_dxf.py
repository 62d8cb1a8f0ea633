"""Closed lines of a DXF drawing: closed polylines, and the faces that single lines enclose."""

import io
import math
from collections.abc import Iterator

import shapely
from ezdxf import path as paths
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.filemanagement import read
from ezdxf.layouts.layout import Modelspace
from ezdxf.lldxf.const import DXFError
from shapely.errors import ShapelyError

from levelbook.errors import DocumentError
from levelbook.exchange.cells import Unit
from levelbook.exchange.outlines import Drawn, Ring
from levelbook.exchange.questions import Interview, refused

MOST_TEXT_LINES, MOST_ENTITIES = 150_000, 5_000
"""Lines of the file and things in its model space that are looked at."""
UNITS: dict[int, Unit] = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""Units that a DXF file tells by number (its reference, $INSUNITS)."""


def is_dxf(data: bytes) -> bool:
    """Return whether the data begin as a drawing file does."""
    return data.startswith(b"AutoCAD Binary DXF") or _begins_a_section(data[:4000])


def _begins_a_section(head: bytes) -> bool:
    """Tell whether a section comes first, but for remarks (code 999, and a line of words)."""
    lines = [line.strip() for line in head.split(b"\n")]
    at = 0
    while at < len(lines):
        if lines[at] == b"999":
            at += 2
        elif lines[at]:
            told = next((line for line in lines[at + 1 :] if line), b"")
            return lines[at] == b"0" and told.startswith(b"SECTION")
        else:
            at += 1
    return False


def from_dxf(data: bytes, name: str, talk: Interview) -> tuple[list[Drawn], Unit | None]:
    """Return the closed lines of a DXF file's model space, and its unit."""
    try:
        if data.startswith(b"AutoCAD Binary DXF"):
            raise refused("outline", name, "is a binary DXF", "save it as a DXF of text")
        if data.count(b"\n") > MOST_TEXT_LINES:
            raise _too_much(name)
        file = read(io.StringIO(_dxf_text(data)))
        space = file.modelspace()
        if len(space) > MOST_ENTITIES:
            raise _too_much(name)
        drawn = list(_closed(space, talk))
    except (DXFError, ShapelyError, ArithmeticError, ValueError, LookupError, TypeError,
            AttributeError):  # fmt: skip
        remedy = "save it anew as DXF R2010"
        raise refused("outline", name, "is a damaged DXF file", remedy) from None
    unit = UNITS.get(int(file.header.get("$INSUNITS", 0)))
    return drawn, unit


def _too_much(name: str) -> DocumentError:
    problem, remedy = "is a very large drawing", "keep the outlines of the floors alone"
    return refused("outline", name, problem, remedy)


def _dxf_text(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    return text.replace("\r\n", "\n")


def _closed(space: Modelspace, talk: Interview) -> Iterator[Drawn]:
    """Yield closed polylines, then the faces that single lines enclose."""
    loose: list[shapely.LineString] = []
    others: dict[str, int] = {}
    for entity in space:
        kind, layer = entity.dxftype(), str(entity.dxf.get("layer", "0"))
        if kind in ("LWPOLYLINE", "POLYLINE"):
            ring = _flattened(entity)
            if _is_closed(entity, ring):
                yield Drawn(f"layer {layer}", ring, layer)
            elif len(ring) > 1:
                loose.append(shapely.LineString(ring))
        elif kind == "LINE":
            a, b = entity.dxf.start, entity.dxf.end
            loose.append(shapely.LineString([(a.x, a.y), (b.x, b.y)]))
        else:
            others[kind] = others.get(kind, 0) + 1
    single = {line.normalize().wkb: line for line in loose}  # lines drawn twice cost much
    faces = list(shapely.polygonize(list(single.values())).geoms) if loose else []
    for face in faces:
        yield Drawn("single lines", [(float(x), float(y)) for x, y in face.exterior.coords])
    if loose and not faces:
        talk.leave("lines", f"{len(loose)} open lines", "they enclose nothing")
    for kind, count in sorted(others.items()):
        talk.leave("the drawing", f"{count} of kind {kind}", "only closed lines become floors")


def _flattened(entity: DXFGraphic) -> Ring:
    """Return the corners of a polyline, its arcs in short straight pieces."""
    found = paths.make_path(entity)
    size = max(1e-9, *(abs(c) for v in found.control_vertices() for c in (v.x, v.y)), 0.0)
    return [(float(v.x), float(v.y)) for v in found.flattening(size / 2000, segments=4)]


def _is_closed(entity: DXFGraphic, ring: Ring) -> bool:
    ends = len(ring) > 3 and math.dist(ring[0], ring[-1]) < 1e-9
    return bool(getattr(entity, "is_closed", False)) or ends
