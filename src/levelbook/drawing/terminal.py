"""The plan and a profile as text, for a terminal: shades where it can, letters where not."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from textwrap import wrap

import numpy as np
import shapely
from numpy.typing import NDArray

from levelbook.book.model import Units
from levelbook.drawing.fields import Field, fields
from levelbook.drawing.metrics import clean
from levelbook.drawing.records import Array
from levelbook.drawing.source import Source, main_group, spots
from levelbook.drawing.wording import (
    UNIT_WORDS,
    Z95,
    decimals_for,
    decimals_of,
    figure,
    nice_step,
    number,
)
from levelbook.floor.model import Profile

SHADES = ("█▓▒░:·", "@#*=:.")
"""Lowest to highest, where the terminal knows block characters and where it does not."""
APART = ("fedcba", "fedcba")
"""The same for floors with a zero of their own, which do not compare."""
_MOST_CLASSES = 5
_LEAST_STEP = 1e-4  # for a floor without height, read by an instrument without steps
_TALL = 2.0
_MOST_ROWS = 44

Cells = NDArray[np.str_]


@dataclass(frozen=True, slots=True)
class _Classes:
    """Levels cut into a few classes of a round size."""

    edges: tuple[float, ...]
    step: float

    def of(self, values: Array) -> NDArray[np.intp]:
        """Return the class of every value."""
        return np.clip(np.searchsorted(self.edges, values) - 1, 0, len(self.edges) - 2)


def _classes(found: Sequence[Field], resolution: float) -> _Classes:
    """Return the classes of the fields of one group."""
    low, high = min(f.low for f in found), max(f.high for f in found)
    step = nice_step(max((high - low) / _MOST_CLASSES, resolution, _LEAST_STEP))
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return _Classes(tuple(step * k for k in range(first, max(last, first + 1) + 1)), step)


def text_plan(source: Source, width: int = 78, *, unicode: bool = True) -> str:
    """Return the plan as lines of text, no wider than ``width`` characters.

    ``H`` and ``L`` stand for the highest and lowest station of an area, ``0`` for a zero,
    ``+`` for the other stations; below stands what the shades mean.
    """
    found = fields(source, "levels")
    main, minus = main_group(source), "−" if unicode else "-"
    corners = np.array([p for area in source.book.areas for p in area.outline])
    (x0, y0), (x1, y1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    per = max((x1 - x0) / max(width - 2, 1), (y1 - y0) / (_TALL * _MOST_ROWS), 1e-9)
    columns, rows = (
        max(2, ceil((x1 - x0) / per) + 1),
        max(2, ceil((y1 - y0) / (per * _TALL)) + 1),
    )
    canvas: Cells = np.full((rows, columns), " ")
    x: Array = np.asarray(x0 + per * np.arange(columns), float)
    y: Array = np.asarray(y1 - per * _TALL * np.arange(rows), float)
    resolution = min((i.resolution for i in source.book.instruments), default=0.1)
    legend: list[str] = []
    for group in dict.fromkeys(f.group for f in found):
        members = [f for f in found if f.group == group]
        classes = _classes(members, resolution)
        shades = (SHADES if group == main else APART)[0 if unicode else 1]
        for member in members:
            _shade(canvas, member, x, y, classes, shades)
        names = ", ".join(clean(f.area) for f in members)
        own = "" if group == main else f" of {names}, own zero, not to be compared"
        legend.append(f"Level in {UNIT_WORDS[source.book.units.level]}{own}:")
        legend.extend(wrap(_key(classes, shades, minus), width))
    _stations(canvas, source, x0, y1, per)
    body = ["".join(row).rstrip() for row in canvas.tolist()]
    signs = "+ station  0 zero  H highest  L lowest"
    lines = [*body, "", signs, *legend, *_extremes(source, minus)]
    return "\n".join(lines).replace("\u00a0", " ")


def _shade(canvas: Cells, field: Field, x: Array, y: Array, classes: _Classes, shades: str) -> None:
    """Write the shade of a field's level into the cells whose centre it holds."""
    gx, gy = np.meshgrid(x, y)
    inside = shapely.intersects_xy(field.footprint, gx, gy)
    col = np.clip(np.searchsorted(field.x, gx[inside]), 0, len(field.x) - 1)
    row = np.clip(np.searchsorted(field.y, gy[inside]), 0, len(field.y) - 1)
    value = field.value[row, col]
    count = len(classes.edges) - 1
    place = np.rint(classes.of(np.nan_to_num(value)) * (len(shades) - 1) / max(count - 1, 1))
    canvas[inside] = np.array(list(shades))[place.astype(np.intp)]


def _stations(canvas: Cells, source: Source, x0: float, y1: float, per: float) -> None:
    """Write the stations over the shades, the telling ones last."""
    signs = []
    for spot in spots(source):
        sign = {"high": "H", "low": "L"}.get(spot.extreme or "", "+")
        if spot.role in {"zero", "own zero"}:
            sign = "0"
        if spot.level is not None:
            signs.append((sign, spot.station.at))
    for sign, (x, y) in sorted(signs, key=lambda each: "+0HL".index(each[0])):
        row, col = round((y1 - y) / (per * _TALL)), round((x - x0) / per)
        canvas[min(row, canvas.shape[0] - 1), min(col, canvas.shape[1] - 1)] = sign


def _key(classes: _Classes, shades: str, minus: str) -> str:
    """Return what the shades mean, from low to high."""
    decimals = decimals_for(classes.step)
    count = len(classes.edges) - 1
    out = []
    for k in range(count):
        shade = shades[round(k * (len(shades) - 1) / max(count - 1, 1))]
        low, high = (number(v, decimals).replace("−", minus) for v in classes.edges[k : k + 2])
        out.append(f"{shade} {low} to {high}".replace(" ", "\u00a0"))
    return "  ".join(out)


def _extremes(source: Source, minus: str) -> list[str]:
    """Return the highest and lowest stations with their levels."""
    decimals = decimals_of(source.book)
    out = []
    for spot in spots(source):
        if spot.extreme is None or spot.level is None:
            continue
        said = number(spot.level, decimals)
        if spot.sd:
            said = figure(spot.level, spot.sd, decimals)
        said = said.replace("−", minus)
        if minus == "-":
            said = said.replace("±", "+/-")
        word = "Highest" if spot.extreme == "high" else "Lowest"
        name, area = clean(spot.station.id), clean(spot.station.area)
        out.append(f"{word} in {area}: station {name}, {said} {source.book.units.level}")
    return out


def text_profile(
    line: Profile, units: Units, width: int = 78, height: int = 11, *, unicode: bool = True
) -> str:
    """Return a profile as lines of text: the floor, its chord and the 95 % band.

    The floor is ``●`` (or ``o``), the chord ``-`` and the band ``░`` (or ``:``).
    """
    dot, band, minus, edge = ("●", "░", "−", "│") if unicode else ("o", ":", "-", "|")
    decimals = 2 if units.level == "in" else 1
    upper, lower = line.level + Z95 * line.level_sd, line.level - Z95 * line.level_sd
    low, high = float(lower.min()), float(upper.max())
    span = max(high - low, 1e-9)
    labels = [number(v, decimals).replace("−", minus) for v in (high, low)]
    left = max(map(len, labels)) + 1
    columns = max(width - left - 1, 2)
    at = np.linspace(0.0, float(line.distance[-1]), columns)
    chord = line.level - line.offset
    canvas: Cells = np.full((height, columns), " ")

    def rows(values: Array) -> NDArray[np.intp]:
        value = np.interp(at, line.distance, values)
        return np.rint((high - value) / span * (height - 1)).astype(np.intp)

    top, bottom = rows(upper), rows(lower)
    for col in range(columns):
        canvas[top[col] : bottom[col] + 1, col] = band
    canvas[rows(chord), np.arange(columns)] = "-"
    canvas[rows(line.level), np.arange(columns)] = dot
    body = []
    for k, row in enumerate(canvas.tolist()):
        label = labels[0] if k == 0 else labels[1] if k == height - 1 else ""
        body.append(f"{label:>{left}}{edge}{''.join(row)}".rstrip())
    foot = f"0 to {line.length:.1f} {units.plan}; levels in {UNIT_WORDS[units.level]}, band 95 %"
    return "\n".join([*body, " " * (left + 1) + foot])
