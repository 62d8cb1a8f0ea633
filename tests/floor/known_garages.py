"""Garages with a known floor, read at a lattice of stations."""

from dataclasses import dataclass

import numpy as np

from levelbook.book.model import (
    Area,
    Book,
    Finish,
    Instrument,
    Mark,
    Property,
    Reading,
    Reference,
    Setup,
    Station,
    Units,
    Visit,
)
from levelbook.floor.fit import fit_surface
from levelbook.floor.footprint import Sampled, footprint
from levelbook.floor.surface import Surface
from levelbook.floor.tilt import tilt
from levelbook.levels.reduction import reduce

SQUARE = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
DOOR = ((2.0, 0.0), (18.0, 0.0))
EXACT = 1e-7  # sd of a reading that is as good as exact


def lattice(wide, deep, across, along, inset=0.5):
    """Return ``across`` by ``along`` places, the outer ones ``inset`` from the walls."""
    x, y = np.linspace(inset, wide - inset, across), np.linspace(inset, deep - inset, along)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def garage_book(
    xy, values, outline=SQUARE, door=DOOR, *, marks=(), sd=0.05, resolution=0.1
) -> Book:
    """Return the book of one garage, one setup, one reading a station; inches and feet."""
    sense = Instrument(
        id="L", kind="hydrostatic", higher_reads="more", resolution=resolution, sd=sd
    )
    return Book(
        format="levelbook/1",
        units=Units(level="in", plan="ft"),
        property=Property(label="A garage (invented)"),
        visit=Visit(date="2026-03-02"),
        instruments=(sense,),
        areas=(Area(id="g", kind="garage", outline=outline, vehicle_door=door),),
        marks=tuple(Mark(kind=kind, at=at) for kind, at in marks),
        finishes=(Finish(id="c", name="Bare concrete"),),
        setups=(Setup(id="G", instrument="L"),),
        stations=tuple(
            Station(id=f"s{i}", at=(float(x), float(y)), area="g") for i, (x, y) in enumerate(xy)
        ),
        readings=tuple(
            Reading(id=f"r{i}", setup="G", station=f"s{i}", finish="c", value=str(v))
            for i, v in enumerate(values)
        ),
        reference=Reference(station="s0"),
    )


def exact_book(height, across=8, along=8, **more) -> Book:
    """Return the book of a garage whose floor is read without error."""
    outline = more.get("outline", SQUARE)
    wide, deep = np.max(outline, axis=0)
    xy = lattice(wide, deep, across, along)
    values = [f"{v:.10f}" for v in height(xy)]
    return garage_book(xy, values, sd=EXACT, resolution=0.0, **more)


def noisy_book(rng, height, xy, sd=0.05, unevenness=0.03, **more) -> Book:
    """Return the book of a garage read to a tenth with error on an uneven floor."""
    true = height(xy) + unevenness * rng.standard_normal(len(xy))
    read = np.round((true + sd * rng.standard_normal(len(xy))) / 0.1) * 0.1 + 0.0
    return garage_book(xy, [f"{v:.1f}" for v in read], sd=sd, **more)


def fitted(book) -> Surface:
    """Return the fitted surface of the garage."""
    surface = fit_surface(reduce(book), book, "g")
    assert isinstance(surface, Surface)
    return surface


def tilt_of(book, surface):
    """Return the tilt of the garage floor."""
    cells = footprint(book.areas[0]).cells(300)
    readings = np.column_stack([surface.xy, surface.level])
    return tilt(Sampled(cells, *surface.joint(cells.xy)), readings, 1 / 12)


@dataclass(frozen=True)
class Hollow:
    """A simulated garage with one hollow: its true height and what was read."""

    height: object
    book: Book


def hollow_garage(k) -> Hollow:
    """Return garage ``k``: a bowl in a falling floor, or a floor that is a dish, in turn.

    18 to 24 ft a side, hollows 0.3 to 1.5 in deep and 13 ft or more across, 16 to 49 stations
    3 to 8 ft apart, reading errors of 0.02 to 0.07 in and unevenness up to 0.06 in.
    """
    rng = np.random.default_rng([20_260_301, k])
    wide, deep = float(rng.integers(18, 25)), float(rng.integers(18, 25))
    middle = np.array([wide, deep]) * rng.uniform(0.38, 0.62, 2)
    size = rng.uniform(0.3, 1.5)
    if k % 2:
        slope, reach = rng.uniform((-0.2, 0.0), (0.2, 0.5)) / (wide, deep), rng.uniform(0.36, 0.55)

        def height(p):
            near = 1 - ((p - middle) ** 2).sum(axis=1) / (reach * min(wide, deep)) ** 2
            return p @ slope - size * np.maximum(0.0, near) ** 2

    else:

        def height(p):
            return size * ((p - middle) ** 2).sum(axis=1) / middle[1] ** 2

    xy = lattice(wide, deep, *rng.integers(4, 8, 2))
    outline = ((0.0, 0.0), (wide, 0.0), (wide, deep), (0.0, deep))
    return Hollow(
        height,
        noisy_book(
            rng,
            height,
            xy,
            sd=rng.uniform(0.02, 0.07),
            unevenness=rng.uniform(0.0, 0.06),
            outline=outline,
            door=((1.5, 0.0), (wide - 1.5, 0.0)),
        ),
    )
