"""LandXML 1.2: the levels as survey points and each area's surface as a triangulated one.

Coordinates are northing, easting, elevation: the plan's y, x and the level in plan units. Up
the sheet is written as north, whatever the true direction, since a plan has no datum. Points of
each group of levels stand in a collection of their own, since groups do not compare.
"""

from xml.etree import ElementTree as ET

import numpy as np
import shapely
from scipy.spatial import Delaunay

from levelbook.book.model import Area
from levelbook.book.units import rise_per_run
from levelbook.findings.model import Assessment
from levelbook.floor.model import Array
from levelbook.floor.shape import AreaShape

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
_UNITS = {
    "ft": ("Imperial", "foot", "squareFoot", "cubicFeet", "fahrenheit", "inHG"),
    "m": ("Metric", "meter", "squareMeter", "cubicMeter", "celsius", "milliBars"),
}


def survey_file(assessment: Assessment) -> bytes:
    """Return points and surfaces as LandXML 1.2, UTF-8."""
    book = assessment.book
    root = ET.Element(
        "LandXML", {"xmlns": NAMESPACE, "version": "1.2", "date": book.visit.date[:10]}
    )
    root.set("time", "00:00:00")
    _units(root, book.units.plan)
    ET.SubElement(root, "Project", {"name": book.property.label[:200]})
    ET.SubElement(root, "Application", {"name": "levelbook"})
    scale = rise_per_run(book.units)
    _points(root, assessment, scale)
    surfaces = ET.SubElement(root, "Surfaces")
    outlines = {area.id: area for area in book.areas}
    for name, shape in assessment.floor.areas.items():
        if isinstance(shape, AreaShape):
            _surface(surfaces, outlines[name], shape, scale)
    if not len(surfaces):
        root.remove(surfaces)
    body: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return body


def _units(root: ET.Element, plan: str) -> None:
    name, linear, area, volume, temperature, pressure = _UNITS[plan]
    ET.SubElement(
        ET.SubElement(root, "Units"),
        name,
        {
            "linearUnit": linear,
            "areaUnit": area,
            "volumeUnit": volume,
            "temperatureUnit": temperature,
            "pressureUnit": pressure,
        },
    )


def _points(root: ET.Element, assessment: Assessment, scale: float) -> None:
    """Write the stations that were read, a collection a group."""
    groups = {
        group.id: ET.SubElement(root, "CgPoints", {"name": f"levels, group {group.id}"})
        for group in assessment.levels.groups
    }
    for station in assessment.book.stations:
        found = assessment.levels.stations.get(station.id)
        if found is not None:
            told = {
                "name": station.id,
                "desc": f"sd {found.sd * scale:.3g} {assessment.book.units.plan}",
            }
            point = ET.SubElement(groups[found.group], "CgPoint", told)
            point.text = _triple(*station.at, found.level * scale)


def _surface(parent: ET.Element, area: Area, shape: AreaShape, scale: float) -> None:
    """Write the fitted surface over an area's corners and grid as triangles within it."""
    floor = shapely.Polygon(area.outline, area.holes)
    xy = _nodes(area, shape, floor)
    mean = shape.surface.predict(xy)[0] * scale
    faces = Delaunay(xy).simplices
    middles = xy[faces].mean(axis=1)
    faces = faces[shapely.contains_xy(floor, middles[:, 0], middles[:, 1])]
    surface = ET.SubElement(parent, "Surface", {"name": area.id, "desc": "fitted floor"})
    definition = ET.SubElement(surface, "Definition", {"surfType": "TIN"})
    points = ET.SubElement(definition, "Pnts")
    for i, ((x, y), z) in enumerate(zip(xy, mean, strict=True), 1):
        ET.SubElement(points, "P", {"id": str(i)}).text = _triple(x, y, z)
    triangles = ET.SubElement(definition, "Faces")
    for face in faces:
        ET.SubElement(triangles, "F").text = " ".join(str(k + 1) for k in face)


def _nodes(area: Area, shape: AreaShape, floor: shapely.Polygon) -> Array:
    """Return distinct points of an area: its corners, and grid points inside it."""
    west, south, east, north = floor.bounds
    step = max(east - west, north - south) / 24
    x, y = np.meshgrid(np.arange(west, east, step) + step / 2, np.arange(south, north, step))
    inside = shapely.contains_xy(floor.buffer(-step / 4), x, y)
    corners = [*area.outline, *(corner for hole in area.holes for corner in hole)]
    along = shapely.get_coordinates(shapely.segmentize(floor.boundary, step))
    every = np.vstack([corners, along, np.column_stack([x[inside], y[inside]])])
    return np.asarray(np.unique(every.round(9), axis=0))


def _triple(x: float, y: float, z: float) -> str:
    """Return northing, easting and elevation as the format writes them."""
    return f"{float(y)!r} {float(x)!r} {float(z)!r}"
