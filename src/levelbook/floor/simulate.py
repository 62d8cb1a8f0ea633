"""Simulated houses with a known floor, to test every stage against the truth.

A house is drawn from a seeded generator: a footprint, a floor of one kind, stations along
the walls and inside, finishes with pairs, two setups with ties and a closing check, readings
rounded as an instrument shows them and, if asked, slips of the pen. Inches and feet.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike
from shapely import Point, Polygon

from levelbook.book.model import (
    Area,
    Book,
    Finish,
    Instrument,
    Property,
    Reading,
    Reference,
    Setup,
    Station,
    Units,
    Visit,
)
from levelbook.floor.floors import FloorKind, Height, draw_floor
from levelbook.floor.model import Array

INSET = 0.5  # ft from the wall to a station beside it
FINISHES = ("tile", "oak", "carpet", "vinyl")


@dataclass(frozen=True, slots=True)
class Recipe:
    """What kind of house to simulate; ``sd`` is one reading's before rounding, inches."""

    kind: FloorKind = "dome"
    stations: int = 60
    sd: float = 0.05
    resolution: float = 0.1
    unevenness: float = 0.04
    plan: Literal["rectangle", "L"] = "rectangle"
    finishes: int = 3
    setups: int = 2
    higher_reads: Literal["more", "less"] = "more"
    decimal_slips: int = 0
    sign_slips: int = 0


@dataclass(frozen=True)
class Truth:
    """A known floor with the interface of a fitted surface, its uncertainty zero.

    Heights are above the true level of the reference station, unevenness included, which
    is what the adjustment calls 0.
    """

    height: Height
    zero: float

    def functional(self, weights: ArrayLike, at: ArrayLike) -> tuple[Array, Array]:
        """Return the true ``weights @ z(at)`` (k,) and a covariance (k, k) of zeros."""
        w = np.atleast_2d(np.asarray(weights, dtype=float))
        return w @ self.predict(at)[0], np.zeros((len(w), len(w)))

    def predict(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return the true heights (m,) at ``at`` (m, 2) and zeros (m,)."""
        value = self.height(np.asarray(at, dtype=float)) - self.zero
        return value, np.zeros_like(value)

    def gradient(self, at: ArrayLike, step: float = 1e-4) -> tuple[Array, Array]:
        """Return the true gradient (m, 2), by central differences, and zeros (m, 2, 2)."""
        points = np.asarray(at, dtype=float)
        moves = step * np.eye(2)
        sides = [self.height(points + m) - self.height(points - m) for m in moves]
        slope = np.stack(sides, axis=1) / (2 * step)
        return slope, np.zeros((len(points), 2, 2))


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading written wrongly on purpose: what it should have been."""

    reading: str
    kind: Literal["decimal", "sign"]
    meant: str
    written: str


@dataclass(frozen=True)
class SimulatedHouse:
    """A book and the truth behind it; levels and heights as the adjustment defines them."""

    book: Book
    truth: Truth
    levels: Mapping[str, float]
    heights: Mapping[str, float]
    constants: Mapping[str, float]
    slips: tuple[Slip, ...]


@dataclass
class _Site:
    """What is being built: places, what is underfoot there, and the true parts."""

    recipe: Recipe
    rng: np.random.Generator
    outline: tuple[tuple[float, float], ...]
    xy: Array
    finish: list[int] = field(default_factory=list)
    setup: list[int] = field(default_factory=list)
    readings: list[tuple[int, int, int]] = field(default_factory=list)  # setup, station, finish


def simulate_house(
    rng: np.random.Generator,
    recipe: Recipe | None = None,
    **changes: Any,  # noqa: ANN401 - the recipe knows its own fields and refuses others
) -> SimulatedHouse:
    """Simulate one visit to one house; the same generator state gives the same house.

    ``changes`` replace fields of the recipe: ``simulate_house(rng, kind="tilt", sd=0.03)``.
    """
    recipe = replace(recipe or Recipe(), **changes)
    outline = draw_outline(rng, recipe.plan)
    xy = place_stations(rng, outline, recipe.stations)
    floor = draw_floor(rng, recipe.kind, outline)
    site = _Site(recipe, rng, outline, xy)
    _walk(site)
    bumps = recipe.unevenness * rng.standard_normal(len(xy))
    levels = floor(xy) + bumps
    zero = float(levels[0])
    levels = levels - zero
    heights = np.append(0.0, rng.uniform(0.2, 0.7, recipe.finishes))[: recipe.finishes]
    heights = heights - heights[site.finish[0]]
    constants = np.append(0.0, rng.uniform(-0.6, 0.6, recipe.setups))[: recipe.setups]
    values = [
        levels[k] + heights[f] + constants[s] + recipe.sd * rng.standard_normal()
        for s, k, f in site.readings
    ]
    written, slips = _write(site, np.array(values))
    return SimulatedHouse(
        book=_book(site, written),
        truth=Truth(floor, zero),
        levels={_name(k): float(v) for k, v in enumerate(levels)},
        heights=dict(zip(FINISHES, map(float, heights), strict=False)),
        constants={_setup(s): float(c) for s, c in enumerate(constants)},
        slips=slips,
    )


def draw_outline(
    rng: np.random.Generator, plan: Literal["rectangle", "L"]
) -> tuple[tuple[float, float], ...]:
    """Return the corners of a footprint, counter-clockwise, in whole feet."""
    long, wide = float(rng.integers(38, 55)), float(rng.integers(26, 37))
    if plan == "rectangle":
        return (0.0, 0.0), (long, 0.0), (long, wide), (0.0, wide)
    cut_x, cut_y = round(long * rng.uniform(0.35, 0.5)), round(wide * rng.uniform(0.35, 0.5))
    inner = (long - cut_x, wide - cut_y)
    return (0.0, 0.0), (long, 0.0), (long, inner[1]), inner, (inner[0], wide), (0.0, wide)


def place_stations(
    rng: np.random.Generator, outline: tuple[tuple[float, float], ...], count: int
) -> Array:
    """Return places (count, 2): the first near the middle, then walls with corners, then inside.

    Wall stations stand 6 to 8 ft apart where the count allows; those inside each fall as
    far from the others as a random trial finds.
    """
    ring = np.array(Polygon(outline).buffer(-INSET, join_style="mitre").exterior.coords)
    sides = np.hypot(*np.diff(ring, axis=0).T)
    on_walls = min(int(sides.sum() / 6.5), max(len(sides), int(0.65 * count)))
    walls = _along(ring, sides, on_walls)[: count - 1]
    middle = np.asarray(Polygon(outline).representative_point().coords)
    places = np.vstack([middle, walls])
    return _fill(rng, Polygon(ring), places, count)


def _along(ring: Array, sides: Array, count: int) -> Array:
    """Return about ``count`` places along a closed ring, corners first."""
    shares = np.maximum(np.round(count * sides / sides.sum()).astype(int), 1)
    between = [
        ring[i] + (ring[i + 1] - ring[i]) * np.arange(1, n)[:, None] / n
        for i, n in enumerate(shares)
    ]
    return np.vstack([ring[:-1], *between])


def _fill(rng: np.random.Generator, inside: Polygon, places: Array, count: int) -> Array:
    """Add places inside until there are ``count``, each the best spread of 40 trials."""
    low, high = np.array(inside.bounds).reshape(2, 2)
    while len(places) < count:
        trials = rng.uniform(low, high, (40, 2))
        trials = trials[[inside.contains(Point(t)) for t in trials]]
        gaps = np.hypot(*(trials[:, None] - places).transpose(2, 0, 1)).min(axis=1)
        places = np.vstack([places, np.round(trials[np.argmax(gaps)], 1)])
    return places


def _walk(site: _Site) -> None:
    """Decide what is underfoot where, which setup reads what, and in which order."""
    recipe, x = site.recipe, site.xy[:, 0]
    width = float(x.max() - x.min()) + 1e-9
    rooms = (recipe.finishes * (x - x.min()) / width).astype(int)
    site.finish = rooms.tolist()
    site.setup = (recipe.setups * (x - x.min()) / width).astype(int).tolist()
    first = site.setup[0]
    order = sorted(range(len(x)), key=lambda k: (site.setup[k] != first, site.setup[k], k))
    for setup in dict.fromkeys(site.setup[k] for k in order):
        mine = [k for k in order if site.setup[k] == setup]
        site.readings += [(setup, k, site.finish[k]) for k in mine]
        site.readings += [(setup, k, site.finish[k]) for k in _ties(site, setup, first)]
        site.readings += [(setup, k, f) for k, f in _pairs(site, mine)]
        site.readings.append((setup, mine[0], site.finish[mine[0]]))  # closing check


def _ties(site: _Site, setup: int, first: int) -> list[int]:
    """Return two stations of the neighbouring setup that this one reads as well."""
    if setup == first:
        return []
    other = setup - 1 if setup > first else setup + 1
    theirs = [k for k, s in enumerate(site.setup) if s == other]
    edge = site.xy[[k for k, s in enumerate(site.setup) if s == setup], 0]
    middle = 0.5 * (edge.min() + edge.max())
    return sorted(theirs, key=lambda k: abs(site.xy[k, 0] - middle))[:2]


def _pairs(site: _Site, mine: list[int]) -> list[tuple[int, int]]:
    """Return the stations of a setup to read on a second finish: two to every doorway."""
    pairs: list[tuple[int, int]] = []
    edges = site.xy[:, 0].min() + np.ptp(site.xy[:, 0]) * np.arange(1, site.recipe.finishes) / (
        site.recipe.finishes
    )
    for lower, edge in enumerate(edges):
        near = sorted(range(len(site.xy)), key=lambda k: abs(site.xy[k, 0] - edge))[:2]
        both = {lower, lower + 1}
        pairs += [
            (k, (both - {site.finish[k]}).pop())
            for k in near
            if k in mine and site.finish[k] in both
        ]
    return pairs


def _write(site: _Site, values: Array) -> tuple[list[str], tuple[Slip, ...]]:
    """Round the values as the instrument shows them and make the slips asked for."""
    recipe = site.recipe
    sense = 1.0 if recipe.higher_reads == "more" else -1.0
    places = max(0, -int(Decimal(str(recipe.resolution)).as_tuple().exponent))
    shown = np.round(sense * values / recipe.resolution) * recipe.resolution
    written = [f"{v + 0.0:.{places}f}" for v in np.round(shown, places) + 0.0]
    slips: list[Slip] = []
    for kind, count, least in (
        ("decimal", recipe.decimal_slips, 0.2),
        ("sign", recipe.sign_slips, 0.4),
    ):
        taken = {slip.reading for slip in slips}
        legal = [
            i
            for i in range(1, len(written))
            if abs(shown[i]) >= least - 1e-9 and _reading(i) not in taken
        ]
        for i in site.rng.permutation(legal)[:count]:
            slips.append(_slip(int(i), kind, written[i], places))
            written[i] = slips[-1].written
    return written, tuple(slips)


def _slip(index: int, kind: str, meant: str, places: int) -> Slip:
    if kind == "decimal":
        return Slip(_reading(index), "decimal", meant, f"{10 * float(meant):.{places}f}")
    return Slip(_reading(index), "sign", meant, meant[1:] if meant[0] == "-" else "-" + meant)


def _name(station: int) -> str:
    return f"p{station + 1}"


def _setup(setup: int) -> str:
    return "ABCDEFGH"[setup]


def _reading(index: int) -> str:
    return f"r{index + 1}"


def _book(site: _Site, written: list[str]) -> Book:
    recipe = site.recipe
    instrument = Instrument(
        id="L1",
        kind="hydrostatic" if recipe.higher_reads == "more" else "laser-and-rod",
        higher_reads=recipe.higher_reads,
        resolution=recipe.resolution,
        sd=recipe.sd,
    )
    return Book(
        format="levelbook/1",
        units=Units(level="in", plan="ft"),
        property=Property(label="A simulated house"),
        visit=Visit(date="2026-01-15"),
        instruments=(instrument,),
        areas=(Area(id="house", kind="living", outline=site.outline),),
        finishes=tuple(Finish(id=f, name=f.title()) for f in FINISHES[: recipe.finishes]),
        setups=tuple(Setup(id=_setup(s), instrument="L1") for s in range(recipe.setups)),
        stations=tuple(
            Station(id=_name(k), at=(float(x), float(y)), area="house")
            for k, (x, y) in enumerate(site.xy)
        ),
        readings=tuple(
            Reading(
                id=_reading(i),
                setup=_setup(s),
                station=_name(k),
                finish=FINISHES[f],
                value=written[i],
            )
            for i, (s, k, f) in enumerate(site.readings)
        ),
        reference=Reference(station=_name(0), finish=FINISHES[site.finish[0]]),
    )
