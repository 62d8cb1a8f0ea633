"""A drawing file (DXF R2010) in real plan units, on layers with plain names.

Levels are written as text with their give-or-take beside their stations, and as points whose z
is the level in plan units, so that a surface can be made of them; contours are polylines at
their level. Groups that have a zero of their own stand on layers of their own, since their
levels do not compare.
"""

import io
import re

from ezdxf.document import Drawing
from ezdxf.enums import InsertUnits, TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from levelbook.book.units import rise_per_run
from levelbook.exchange.contour_lines import contour_lines
from levelbook.findings.display import STEPS, with_doubt
from levelbook.findings.model import Assessment
from levelbook.levels.model import StationLevel

LAYERS = {
    "OUTLINE": 7,
    "WALLS": 8,
    "VEHICLE-DOOR": 3,
    "STATIONS": 4,
    "STATIONS-TEXT": 8,
    "LEVELS-TEXT": 7,
    "LEVELS-3D": 4,
    "CONTOURS": 9,
    "CONTOURS-TEXT": 9,
    "SECTIONS": 6,
    "MARKS": 2,
    "DISTRESS": 1,
    "NOTES": 7,
}
"""Layers and their colour numbers."""
_RISE = {
    **{"LEVELS-TEXT": 0.75, "STATIONS-TEXT": -0.75},
    **{"SECTIONS": 2.0, "MARKS": -1.75, "DISTRESS": -3.0},
}
"""How far texts of a layer stand above their place, heights of their letters."""
WORDS = {"in": "inches", "mm": "millimetres", "ft": "feet", "m": "metres"}


def drawing_file(assessment: Assessment) -> bytes:
    """Return the plan as DXF text, UTF-8; the same assessment gives the same bytes."""
    book = assessment.book
    file = new("R2010", setup=False)
    file.units = InsertUnits.Feet if book.units.plan == "ft" else InsertUnits.Meters
    file.header["$MEASUREMENT"] = int(book.units.plan == "m")
    layers = dict.fromkeys(level_layers(assessment).values(), LAYERS["LEVELS-3D"])
    layers |= dict.fromkeys(contour_layers(assessment).values(), LAYERS["CONTOURS"])
    for name, colour in (LAYERS | layers).items():
        file.layers.add(name, color=colour)
    space, height = file.modelspace(), 0.5 if book.units.plan == "ft" else 0.15
    _plan(space, assessment, height)
    _stations(space, assessment, height)
    _contours(space, assessment, height)
    _notes(space, assessment, height)
    return _written(file)


def _plan(space: Modelspace, assessment: Assessment, height: float) -> None:
    book = assessment.book
    for area in book.areas:
        for ring in (area.outline, *area.holes):
            space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "OUTLINE"})
        if area.vehicle_door:
            space.add_line(*area.vehicle_door, dxfattribs={"layer": "VEHICLE-DOOR"})
    for wall in book.walls:
        space.add_lwpolyline(wall, dxfattribs={"layer": "WALLS"})
    for section in book.sections:
        space.add_line(*section.line, dxfattribs={"layer": "SECTIONS"})
        _text(space, section.id, section.line[0], height, "SECTIONS")
    for mark in book.marks:
        space.add_point(mark.at, dxfattribs={"layer": "MARKS"})
        _text(space, mark.label or mark.kind, mark.at, height, "MARKS")
    for sign in book.distress:
        if sign.at:
            space.add_point(sign.at, dxfattribs={"layer": "DISTRESS"})
        elif sign.line:
            space.add_lwpolyline(sign.line, dxfattribs={"layer": "DISTRESS"})
        where = sign.at or (sign.line or ((0.0, 0.0),))[0]
        _text(space, f"{sign.id} {sign.kind}", where, height, "DISTRESS")


def _stations(space: Modelspace, assessment: Assessment, height: float) -> None:
    scale, unit = rise_per_run(assessment.book.units), assessment.book.units.level
    layers = level_layers(assessment)
    for station in assessment.book.stations:
        space.add_circle(station.at, height / 4, dxfattribs={"layer": "STATIONS"})
        found = assessment.levels.stations.get(station.id)
        if found is not None:
            point = (*station.at, found.level * scale)
            space.add_point(point, dxfattribs={"layer": layers[found.group]})
            _text(space, level_text(found, unit), station.at, height, "LEVELS-TEXT")
        _text(space, station.id, station.at, 0.7 * height, "STATIONS-TEXT")


def level_layers(assessment: Assessment) -> dict[str, str]:
    """Return the layer of each group's points: the first plain, the others numbered."""
    return _numbered("LEVELS-3D", assessment)


def contour_layers(assessment: Assessment) -> dict[str, str]:
    """Return the layer of each group's contours, numbered as those of its points."""
    return _numbered("CONTOURS", assessment)


def _numbered(name: str, assessment: Assessment) -> dict[str, str]:
    groups = enumerate(assessment.levels.groups, 1)
    return {group.id: name if i == 1 else f"{name}-{i}" for i, group in groups}


def level_text(found: StationLevel, unit: str) -> str:
    """Return a level with half of its 95 % interval; the zero itself has none."""
    shown, half = with_doubt(found.level, found.sd, STEPS[unit])
    return f"{shown} ±{half}" if found.sd > 0 else shown


def _notes(space: Modelspace, assessment: Assessment, height: float) -> None:
    """Write below the plan what the numbers are and what they are not."""
    book = assessment.book
    corners = [corner for area in book.areas for corner in area.outline]
    left, low = min(x for x, _ in corners), min(y for _, y in corners)
    lines = [
        f"{book.property.label}, visit of {book.visit.date}",
        f"Levels in {WORDS[book.units.level]} with half of their 95 % interval; plan in "
        f"{WORDS[book.units.plan]}",
        "Describes and screens; it is not engineering.",
    ]
    for group, layer in level_layers(assessment).items():
        contours = contour_layers(assessment)[group]
        lines.append(f"{layer}, {contours}: group {group}, comparable only with itself")
    for i, line in enumerate(lines, 2):
        _text(space, line, (left, low - 2 * i * height), height, "NOTES")


def _contours(space: Modelspace, assessment: Assessment, height: float) -> None:
    scale = rise_per_run(assessment.book.units)
    layers = contour_layers(assessment)
    for shape, _, lines in contour_lines(assessment):
        for line in lines:
            attributes = {"layer": layers[shape.group], "elevation": line.level * scale}
            space.add_lwpolyline(line.line.tolist(), dxfattribs=attributes)
            middle = line.line[len(line.line) // 2]
            _text(space, f"{line.level:g}", tuple(middle.tolist()), height * 0.7, "CONTOURS-TEXT")


def _text(space: Modelspace, text: str, at: tuple[float, ...], height: float, layer: str) -> None:
    """Write one line of text beside a place; control marks of the format are taken out.

    Levels stand above the line through a place, names of stations, marks and signs below it,
    so that they do not lie on each other, nor on a wall along which the places are.
    """
    marks = text.replace("%%", "% %").replace("^", " ").replace("\\", "/")
    plain = "".join(c for c in " ".join(marks.split()) if c.isprintable())[:250]
    made = space.add_text(plain, height=height, dxfattribs={"layer": layer})
    where = (at[0] + height / 2, at[1] + _RISE.get(layer, 0.0) * height)
    made.set_placement(where, align=TextEntityAlignment.MIDDLE_LEFT)


def _written(file: Drawing) -> bytes:
    """Return the file's text without the times and ids that differ from run to run.

    The classes in use are told in order, since the library tells them in that of a set.
    """
    for kind in sorted(file.entitydb.dxf_types_in_use()):
        file.classes.add_class(kind)
    file.header["$TDCREATE"] = _MOMENT
    file.header["$FINGERPRINTGUID"] = _NO_GUID
    stream = io.StringIO()
    file.write(stream)
    text = _UPDATED.sub(rf"\g<1>{_MOMENT}\n", stream.getvalue())
    text = _VERSION.sub(rf"\g<1>{_NO_GUID}\n", text)
    return _WRITER.sub(r"\1 @ 2000-01-01T00:00:00+00:00", text).encode("utf-8")


_MOMENT = 2_451_544.5
_NO_GUID = "{00000000-0000-0000-0000-000000000000}"
_UPDATED = re.compile(r"(?m)^(  9\n\$TDUPDATE\n 40\n).*\n")
_VERSION = re.compile(r"(?m)^(  9\n\$VERSIONGUID\n  2\n).*\n")
_WRITER = re.compile(r"(?m)^(\d+\.\d+(?:\.\d+)?\S*) @ \d{4}-\d\d-\d\dT\S+$")
"""Lines that say when and as which version a file was written, and by which writer."""
