"""The survey file: form, units, points and surfaces that cover each floor once.

What is asked of the form is the published 1.2 schema's structure for units, points and
surfaces, from memory: the schema itself was not at hand.
"""

from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from exchange_books import groups_that_share

from levelbook.exchange.survey_file import NAMESPACE, survey_file
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.floor.shape import AreaShape

NS = {"x": NAMESPACE}


def triple(text: str | None) -> tuple[float, float, float]:
    """Return a text of three numbers."""
    north, east, up = map(float, str(text).split())
    return north, east, up


@pytest.fixture(scope="module")
def root(demo: Assessment) -> ET.Element:
    """Return the demo house's file, read."""
    return ET.fromstring(survey_file(demo))


def test_head_and_units(root: ET.Element) -> None:
    """Version, date and time are there, and one system of units with every unit it must name."""
    assert root.tag == f"{{{NAMESPACE}}}LandXML"
    assert {"version", "date", "time"} <= set(root.attrib)
    (units,) = root.findall("x:Units/*", NS)
    assert units.tag.endswith("Imperial")
    assert units.attrib["linearUnit"] == "foot"
    needed = {"areaUnit", "linearUnit", "volumeUnit", "temperatureUnit", "pressureUnit"}
    assert needed <= set(units.attrib)


def test_points_are_the_levels(root: ET.Element, demo: Assessment) -> None:
    """Each station that was read is a point: northing y, easting x, elevation in feet."""
    found = {p.attrib["name"]: triple(p.text) for p in root.findall("x:CgPoints/x:CgPoint", NS)}
    levels = demo.levels.stations
    due = {
        s.id: (s.at[1], s.at[0], levels[s.id].level / 12)
        for s in demo.book.stations
        if s.id in levels
    }
    assert set(found) == set(due)
    for name, at in due.items():
        assert found[name] == pytest.approx(at, abs=1e-9)


def test_groups_are_collections_of_their_own() -> None:
    """Points whose levels do not compare are not listed together."""
    made = ET.fromstring(survey_file(assess(groups_that_share())))
    assert [len(c) for c in made.findall("x:CgPoints", NS)] == [2, 2, 2]


def test_surfaces_cover_their_floor(root: ET.Element, demo: Assessment) -> None:
    """The triangles of a surface are its floor's area, none lies outside, none overlaps."""
    areas = {a.id: shapely.Polygon(a.outline, a.holes) for a in demo.book.areas}
    surfaces = root.findall("x:Surfaces/x:Surface", NS)
    assert {s.attrib["name"] for s in surfaces} == {
        n for n, s in demo.floor.areas.items() if isinstance(s, AreaShape)
    }
    for surface in surfaces:
        points = {p.attrib["id"]: triple(p.text) for p in surface.iter(f"{{{NAMESPACE}}}P")}
        faces = [str(f.text).split() for f in surface.iter(f"{{{NAMESPACE}}}F")]
        shapes = [shapely.Polygon([points[i][1::-1] for i in face]) for face in faces]
        floor = areas[surface.attrib["name"]]
        assert sum(s.area for s in shapes) == pytest.approx(floor.area, rel=1e-6)
        assert shapely.union_all(shapes).symmetric_difference(floor).area < 1e-6 * floor.area


def test_surface_is_the_fitted_one(root: ET.Element, demo: Assessment) -> None:
    """Each node's elevation is the fitted surface there."""
    surface = root.findall("x:Surfaces/x:Surface", NS)[0]
    shape = demo.floor.areas[surface.attrib["name"]]
    assert isinstance(shape, AreaShape)
    nodes = np.array([triple(p.text) for p in surface.iter(f"{{{NAMESPACE}}}P")])
    due = shape.surface.predict(nodes[:, 1::-1])[0] / 12
    assert nodes[:, 2] == pytest.approx(due, abs=1e-9)
