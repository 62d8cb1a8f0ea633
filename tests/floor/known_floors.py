"""Known floors to hold the shape against: surfaces, books and turns of the sheet."""

import numpy as np

from levelbook.book.model import (
    Area,
    Book,
    Finish,
    Instrument,
    Property,
    Reading,
    Reference,
    Section,
    Setup,
    Station,
    Units,
    Visit,
)
from levelbook.floor.footprint import Footprint, Sampled, footprint
from levelbook.floor.model import Hyperparameters
from levelbook.floor.surface import Surface

RECTANGLE = ((0.0, 0.0), (40.0, 0.0), (40.0, 28.0), (0.0, 28.0))
ELL = ((0.0, 0.0), (40.0, 0.0), (40.0, 14.0), (22.0, 14.0), (22.0, 30.0), (0.0, 30.0))
EXACT = Hyperparameters(amplitude=2.0, length=25.0, unevenness=1e-5)
ROUGH = Hyperparameters(amplitude=0.5, length=15.0, unevenness=0.05)


def floor_of(outline=RECTANGLE, holes=()) -> Footprint:
    return footprint(Area(id="a", kind="living", outline=outline, holes=holes))


def lattice(outline=RECTANGLE, step=4.0):
    """Return places at most ``step`` apart over the bounding box, edges included."""
    high = np.max(outline, axis=0)
    x, y = (np.linspace(0.0, h, int(np.ceil(h / step)) + 1) for h in high)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def surface_of(xy, level, hyper=EXACT, sd=0.0) -> Surface:
    names = tuple(f"s{i}" for i in range(len(xy)))
    noise = sd**2 * np.eye(len(xy))
    return Surface("a", "g", names, np.asarray(xy), np.asarray(level), noise, hyper)


def exact(height, outline=RECTANGLE, step=4.0) -> Surface:
    """Return the surface of a known height, read without error."""
    xy = lattice(outline, step)
    return surface_of(xy, height(xy))


def sampled(surface: Surface, floor: Footprint, count=300) -> Sampled:
    cells = floor.cells(count)
    return Sampled(cells, *surface.joint(cells.xy))


def turn(angle):
    """Return the matrix that turns column vectors anticlockwise by degrees."""
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    return np.array([[c, -s], [s, c]])


def moved(points, angle, shift):
    """Return points (k, 2) turned anticlockwise by degrees and shifted."""
    return np.asarray(points) @ turn(angle).T + shift


def book_of(xy, values, outline=RECTANGLE, **more) -> Book:
    """Return a book of one floor, one setup and one finish, one reading a station."""
    stations = tuple(
        Station(id=f"s{i}", at=(float(x), float(y)), area="a") for i, (x, y) in enumerate(xy)
    )
    readings = tuple(
        Reading(id=f"r{i}", setup="A", station=f"s{i}", finish="tile", value=value)
        for i, value in enumerate(values)
    )
    units = more.get("units", Units(level="in", plan="ft"))
    sections = tuple(Section(id=name, line=line) for name, line in more.get("sections", {}).items())
    return Book(
        format="levelbook/1",
        units=units,
        property=Property(label="A known floor"),
        visit=Visit(date="2026-01-15"),
        instruments=(more.get("instrument") or instrument(),),
        areas=(Area(id="a", kind="living", outline=outline), *more.get("areas", ())),
        finishes=(Finish(id="tile", name="Tile"), Finish(id="oak", name="Oak")),
        setups=(Setup(id="A", instrument="L1"), Setup(id="B", instrument="L1")),
        stations=stations + more.get("stations", ()),
        readings=readings + more.get("readings", ()),
        sections=sections,
        reference=Reference(station="s0"),
    )


def instrument(**changes) -> Instrument:
    known = {"kind": "hydrostatic", "higher_reads": "more", "resolution": 0.1, "sd": 0.05}
    return Instrument(id="L1", **(known | changes))
