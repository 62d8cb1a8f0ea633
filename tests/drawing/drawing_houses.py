"""Invented houses for drawings, with levels and floors given by formula: nothing is fitted.

A drawing must not change because a number further up the line changes in its last digit, so
these floors are polynomials on a grid and their standard errors are polynomials too.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from levelbook.book.model import (
    Area,
    Book,
    Distress,
    Finish,
    Instrument,
    Mark,
    Property,
    Reading,
    Reference,
    Section,
    Setup,
    Station,
    Units,
    Visit,
)
from levelbook.drawing import Parts
from levelbook.floor.model import (
    Bend,
    Coverage,
    Grid,
    Hyperparameters,
    NextPlace,
    Profile,
    Range,
    Suspect,
    Tilt,
    TooFew,
)
from levelbook.floor.shape import AreaShape, Floor
from levelbook.floor.surface import Surface
from levelbook.levels.model import Fit, Group, Levels, StationLevel

Height = Callable[[np.ndarray, np.ndarray], np.ndarray]

RECTANGLE = ((0.0, 0.0), (48.0, 0.0), (48.0, 30.0), (0.0, 30.0))
L_SHAPE = ((0.0, 0.0), (30.0, 0.0), (30.0, 18.0), (54.0, 18.0), (54.0, 40.0), (0.0, 40.0))
LONG_THIN = ((0.0, 0.0), (90.0, 0.0), (90.0, 14.0), (0.0, 14.0))
GARAGE = ((30.5, 0.0), (53.5, 0.0), (53.5, 17.5), (30.5, 17.5))


def dome(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return a floor that falls away from its middle, a little more to the right."""
    return -0.0012 * (x - 20) ** 2 - 0.0011 * (y - 18) ** 2 - 0.004 * x


def dish(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return a floor that is low in its middle."""
    return 0.0021 * (x - 22) ** 2 + 0.0026 * (y - 14) ** 2 - 0.7


def tilted(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return a plane that falls up the sheet."""
    return -0.03 * y + 0.002 * x


def doubt(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return a standard error that grows away from the origin."""
    return 0.03 + 0.00002 * (x * x + y * y)


@dataclass(frozen=True)
class Plot:
    """One area of a house with its floor; ``group`` A hangs on the book's reference."""

    area: Area
    height: Height = dome
    group: str = "A"
    sd: Height = doubt
    shaped: bool = True


def area(
    name: str, outline: Sequence[tuple[float, float]], kind: str = "living", **more: Any
) -> Area:
    """Return an area."""
    return Area.model_validate({"id": name, "kind": kind, "outline": outline, **more})


def spread(plot: Plot, count: int, seed: int = 1, inset: float = 0.5) -> list[tuple[float, float]]:
    """Return places for stations: the corners, along the walls, then spread inside."""
    inner = shapely.Polygon(plot.area.outline, plot.area.holes).buffer(-inset, join_style="mitre")
    ring = inner.exterior
    walls = max(len(plot.area.outline), int(0.55 * count))
    corners = list(dict.fromkeys(ring.coords))[:count]
    along = [ring.interpolate(k / walls, normalized=True) for k in range(walls)]
    places = list(corners)
    for point in along:
        if len(places) < count and min(shapely.distance(point, shapely.points(places))) > 1.5:
            places.append((point.x, point.y))
    rng = np.random.default_rng(seed)
    low, high = np.array(inner.bounds).reshape(2, 2)
    while len(places) < count:
        trial = rng.uniform(low, high, (30, 2))
        trial = trial[shapely.contains_xy(inner, trial[:, 0], trial[:, 1])]
        if not len(trial):
            continue
        gap = np.hypot(*(trial[:, None] - np.array(places)[None]).transpose(2, 0, 1)).min(axis=1)
        places.append(tuple(trial[int(np.argmax(gap))].tolist()))
    return [(round(float(x), 2), round(float(y), 2)) for x, y in places]


def house(
    plots: Sequence[Plot],
    counts: Sequence[int],
    *,
    units: tuple[str, str] = ("in", "ft"),
    resolution: float = 0.1,
    walls: Sequence[Any] = (),
    marks: Sequence[dict[str, Any]] = (),
    sections: Sequence[dict[str, Any]] = (),
    distress: Sequence[dict[str, Any]] = (),
    north: float | None = None,
    suspects: Sequence[str] = (),
    struck: Sequence[tuple[float, float]] = (),
    unread: Sequence[tuple[float, float]] = (),
    label: str = "3 Invented Lane",
    worst: bool = True,
) -> Parts:
    """Return a house with its levels and floor, all given by formula."""
    stations, levels, zeros = [], {}, {}
    scale = 1.0 if units[0] == "in" else 25.4
    for plot, count in zip(plots, counts, strict=True):
        for k, at in enumerate(spread(plot, count)):
            name = f"{plot.area.id[:2]}{k + 1}"
            stations.append(Station(id=name, at=at, area=plot.area.id))
            first = zeros.setdefault(plot.group, (name, float(plot.height(*np.array(at)))))
            value = scale * (float(plot.height(*np.array(at))) - first[1])
            known = name != first[0]
            sd = scale * float(plot.sd(*np.array(at))) if known else 0.0
            levels[name] = StationLevel(value if known else 0.0, sd, plot.group, (f"r{name}",))
    more = [("struck", at, True) for at in struck] + [("unread", at, False) for at in unread]
    readings = [_reading(station.id) for station in stations]
    for k, (word, at, written) in enumerate(more):
        station = Station(id=f"{word}{k}", at=at, area=plots[0].area.id)
        stations.append(station)
        if written:
            readings.append(_reading(station.id, struck=True))
    book = Book(
        format="levelbook/1",
        units=Units.model_validate({"level": units[0], "plan": units[1]}),
        property=Property(label=label, north=north),
        visit=Visit(date="2026-03-02"),
        instruments=(
            Instrument(
                id="L1", kind="hydrostatic", higher_reads="more", resolution=resolution, sd=0.05
            ),
        ),
        areas=tuple(plot.area for plot in plots),
        walls=tuple(tuple(wall) for wall in walls),
        marks=tuple(Mark.model_validate(mark) for mark in marks),
        finishes=(Finish(id="tile", name="Tile"),),
        setups=(Setup(id="A", instrument="L1"),),
        stations=tuple(stations),
        readings=tuple(readings),
        sections=tuple(Section.model_validate(section) for section in sections),
        reference=Reference(station=stations[0].id),
        distress=tuple(Distress.model_validate(sign) for sign in distress),
    )
    groups = tuple(
        Group(g, zeros[g][0], "tile", tuple(s for s, v in levels.items() if v.group == g))
        for g in zeros
    )
    ids = tuple(levels)
    adjusted = Levels(
        groups,
        levels,
        {},
        {},
        Fit(len(ids), len(ids), 0, None, 0.0, None, None, None),
        (),
        {},
        ids,
        np.array([levels[i].level for i in ids]),
        np.array([levels[i].sd ** 2 for i in ids]),
        np.zeros((len(ids), 1)),
    )
    shapes = {
        plot.area.id: _shape(plot, adjusted, book, scale, worst)
        if plot.shaped
        else TooFew(count, 6)
        for plot, count in zip(plots, counts, strict=True)
    }
    flagged = tuple(
        Suspect(f"r{i}", i, "0.0", 0.0, 0.1, "decimal", None, 9.0, "invented") for i in suspects
    )
    profiles = {s.id: line_profile(plots[0], s.line, scale) for s in book.sections}
    return Parts(book, adjusted, Floor(shapes, profiles, flagged))


def _reading(station: str, *, struck: bool = False) -> Reading:
    return Reading(
        id=f"r{station}", setup="A", station=station, finish="tile", value="0.0", struck=struck
    )


def _shape(plot: Plot, levels: Levels, book: Book, scale: float, worst: bool) -> AreaShape:
    outline = shapely.Polygon(plot.area.outline, plot.area.holes)
    x0, y0, x1, y1 = outline.bounds
    step = max(x1 - x0, y1 - y0) / 60
    x = np.linspace(x0, x1, round((x1 - x0) / step) + 1)
    y = np.linspace(y0, y1, round((y1 - y0) / step) + 1)
    gx, gy = np.meshgrid(x, y)
    ids = [s.id for s in book.stations if s.area == plot.area.id and s.id in levels.stations]
    zero = next(g.zero for g in levels.groups if g.id == plot.group)
    place = {s.id: np.array(s.at) for s in book.stations}
    mean = scale * (plot.height(gx, gy) - float(plot.height(*place[zero])))
    inside = shapely.intersects_xy(outline, gx, gy)
    near = shapely.intersects_xy(outline.buffer(1.5 * step), gx, gy)
    sd = scale * plot.sd(gx, gy)
    mean[~near], sd[~near] = np.nan, np.nan
    values = {i: levels.stations[i].level for i in ids}
    high, low = max(values, key=lambda i: values[i]), min(values, key=lambda i: values[i])
    xy = np.array([place[i] for i in ids])
    surface = Surface(
        plot.area.id,
        plot.group,
        tuple(ids),
        xy,
        np.array([values[i] for i in ids]),
        np.eye(len(ids)) * 1e-3,
        Hyperparameters(0.3, 15.0, 0.03),
    )
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    ends = ((x0 + 1.0, middle[1]), (x1 - 1.0, middle[1]))
    return AreaShape(
        area=plot.area.id,
        group=plot.group,
        surface=surface,
        grid=Grid(x, y, inside, mean, sd),
        range=Range(values[high] - values[low], 0.1 * scale, high, low),
        tilt=Tilt(
            0.0016, 0.0003, 118.0, -0.0014, 0.0007, *(0.0002, 0.0002), *(0.0016, 118.0, 0, 0)
        ),
        steepest=None,
        deflection=line_profile(plot, ends, scale) if worst else None,
        walls=(),
        bend=Bend("dome", (-0.002, -0.001), (0.0005, 0.0005), 20.0, "invented"),
        coverage=Coverage(
            8.0, middle, 10.0, 0.05, (), (NextPlace(middle, 0.2), NextPlace(ends[0], 0.1))
        ),
    )


def line_profile(plot: Plot, line: Any, scale: float = 1.0, points: int = 41) -> Profile:
    """Return the profile of a plot's formula along a line."""
    (x0, y0), (x1, y1) = line
    t = np.linspace(0.0, 1.0, points)
    x, y = x0 + t * (x1 - x0), y0 + t * (y1 - y0)
    level = scale * plot.height(x, y)
    offset = level - (level[0] + t * (level[-1] - level[0]))
    worst = int(np.argmax(np.abs(offset)))
    length = float(np.hypot(x1 - x0, y1 - y0))
    deflection = float(offset[worst])
    return Profile(
        line=((x0, y0), (x1, y1)),
        length=length,
        deflection=deflection,
        sd=0.08 * scale,
        ratio=None if deflection == 0.0 else 12 * length / abs(deflection),
        shape="hog" if deflection > 0 else "sag",
        at=(float(x[worst]), float(y[worst])),
        source="invented",
        distance=t * length,
        level=level,
        level_sd=scale * plot.sd(x, y),
        offset=offset,
    )


def full_house(**changes: Any) -> Parts:
    """Return a house that has everything a drawing can show."""
    parts: dict[str, Any] = {
        "walls": [[(14, 0), (14, 13)], [(0, 13), (11, 13)], [(38, 40), (38, 28)]],
        "marks": [
            {"kind": "front-door", "at": (30, 9)},
            {"kind": "water-heater", "at": (52, 16)},
            {"kind": "drain", "at": (42, 8)},
            {"kind": "tree", "at": (58, 44), "label": "oak"},
            {"kind": "sump", "at": (20, 22), "label": "sump pit"},
        ],
        "sections": [{"id": "S1", "line": ((1, 30), (53, 30))}],
        "distress": [
            {"id": "d1", "kind": "crack", "element": "drywall", "line": ((44, 40), (44, 36))},
            {"id": "d2", "kind": "door-binding", "element": "trim", "at": (11, 13)},
        ],
        "north": 20.0,
        "suspects": ["ho9"],
        "struck": [(24.0, 26.0)],
        "unread": [(8.0, 24.0)],
    }
    garage = area("garage", GARAGE, "garage", vehicle_door=((34, 0), (50, 0)))
    plots = [Plot(area("house", L_SHAPE)), Plot(garage, tilted, "G")]
    return house(plots, (34, 9), **(parts | changes))
