"""Closed lines from GeoJSON, DXF and SVG files, each by what the format says of itself."""

import json
import re

from defusedxml.common import DefusedXmlException  # type: ignore[import-untyped]
from defusedxml.ElementTree import ParseError, fromstring  # type: ignore[import-untyped]

from levelbook.exchange.cells import Unit
from levelbook.exchange.guard import check_markup
from levelbook.exchange.outline_dxf import from_dxf, is_dxf
from levelbook.exchange.outline_geojson import from_geojson, is_geojson
from levelbook.exchange.outlines import Drawn, Floor, floors_of, scale_of
from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.svg_lines import svg_rings

LARGEST = 5_000_000
_ASKED: dict[Unit, str] = {
    **{"ft": "feet", "m": "metres", "in": "inches"},
    **{"mm": "millimetres", "cm": "centimetres"},
}

_PLAIN_TYPE = re.compile(rb'<!DOCTYPE\s+svg(?:\s+PUBLIC\s+"[^"<>]*"\s+"[^"<>]*")?\s*>')


def is_svg(data: bytes) -> bool:
    """Return whether the data are an SVG document by their first element."""
    return re.search(rb"<(?:\w+:)?svg\b", data[:4000]) is not None


def read_floors(data: bytes, name: str, plan: Unit, talk: Interview) -> tuple[Floor, ...]:
    """Return the floors that a file of outlines holds, in the plan unit asked for.

    Raises
    ------
    DocumentError
        If it is none of the three formats, is damaged or hostile, or has no closed line.
    """
    if len(data) > LARGEST:
        raise refused(
            "too-large", name, f"is larger than {LARGEST // 10**6} MB", "keep the outline"
        )
    if is_dxf(data):
        drawn, unit = from_dxf(data, name, talk)
    elif is_svg(data):
        drawn, unit = _from_svg(data, name, talk), None
        return floors_of(drawn, _svg_scale(plan, talk), talk)
    else:
        drawn, unit = from_geojson(_json(data, name), name, talk)
    return floors_of(drawn, _scale(unit, plan, talk), talk)


def _scale(unit: Unit | None, plan: Unit, talk: Interview) -> float:
    if unit is None:
        options = {str(key): says for key, says in _ASKED.items()}
        answer = talk.choose("unit.drawing", "In which unit is the drawing?", options)
        unit = next((u for u in _ASKED if u == answer), None)
    return 1.0 if unit is None else scale_of(unit, plan)


def _svg_scale(plan: Unit, talk: Interview) -> float:
    asks = f"How long is one unit of the SVG drawing, in {_ASKED[plan]}?"
    answer = talk.write("scale", asks, _is_scale)
    return float(answer) if answer else 1.0


def _is_scale(text: str) -> bool:
    try:
        return 0 < float(text) < 1e6
    except ValueError:
        return False


def _json(data: bytes, name: str) -> object:
    try:
        found: object = json.loads(data)
    except (ValueError, RecursionError):
        problem = "is neither DXF, SVG nor GeoJSON"
        raise refused("outline", name, problem, "save the outline as one of them") from None
    return found


def _from_svg(data: bytes, name: str, talk: Interview) -> list[Drawn]:
    """Return the closed lines of an SVG document, y turned up."""
    check_markup(_without_plain_doctype(data), name)
    try:
        root = fromstring(data, forbid_dtd=False, forbid_entities=True, forbid_external=True)
    except (ParseError, DefusedXmlException, ValueError):
        raise refused("outline", name, "is a damaged SVG file", "save it anew") from None
    return list(svg_rings(root, talk))


def _without_plain_doctype(data: bytes) -> bytes:
    """Return a document without the declaration of the SVG type alone, which many carry."""
    return re.sub(
        rb"<!DOCTYPE\s+svg(?:\s+PUBLIC\s+\"[^\"<>]*\"\s+\"[^\"<>]*\")?\s*>", b"", data, count=1
    )


__all__ = ["is_dxf", "is_geojson", "is_svg", "read_floors"]
