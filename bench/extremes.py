"""How often 95 % intervals hold the truth for figures picked as the largest of many.

Run as ``python bench/extremes.py [houses]``. Over simulated houses of every kind of floor with
20 to 100 stations: the length of the tilt, the steepest slope between stations (against the
true slope of that pair), and the largest offset from the chord of every wall, of a drawn
section and of the worst chord (against the true profile's own largest offset).
"""

import sys
import time
from collections import defaultdict

import numpy as np

from levelbook.book.model import Section
from levelbook.floor import AreaShape, Profile, shape_floor
from levelbook.floor.floors import KINDS
from levelbook.floor.footprint import footprint
from levelbook.floor.profiles import POINTS, chord_removal
from levelbook.floor.simulate import SimulatedHouse, simulate_house
from levelbook.floor.tilt import plane_weights
from levelbook.levels import reduce

FACTOR = 1 / 12


def draw(seed: int) -> SimulatedHouse:
    """Draw one house; the seed alone decides its kind and size."""
    rng = np.random.default_rng([20260401, seed])
    return simulate_house(
        rng,
        kind=KINDS[seed % len(KINDS)],
        stations=int(rng.integers(20, 101)),
        unevenness=float(rng.uniform(0.02, 0.07)),
        plan="L" if seed % 2 else "rectangle",
    )


def held(house: SimulatedHouse) -> dict[str, list[bool]]:
    """Return for each quantity whether its intervals hold the truth."""
    area = house.book.areas[0]
    high = np.max(area.outline, axis=0)
    section = Section(id="s", line=((2.0, 2.0), (0.55 * float(high[0]), 0.5 * float(high[1]))))
    book = house.book.model_copy(update={"sections": (section,)})
    floor = shape_floor(book, reduce(book))
    shape = floor.areas["house"]
    if not isinstance(shape, AreaShape) or shape.steepest is None or shape.deflection is None:
        raise SystemExit("a simulated house has too few stations")
    cells = footprint(area).cells(400)
    tilt = plane_weights(cells.xy, cells.share) @ house.truth.predict(cells.xy)[0] * FACTOR
    places = {s.id: s.at for s in book.stations}
    ends = np.array([places[shape.steepest.start], places[shape.steepest.end]])
    top, bottom = house.truth.predict(ends)[0]
    slope = (top - bottom) / shape.steepest.distance * FACTOR
    return {
        "tilt": [_within(shape.tilt.slope, float(np.hypot(*tilt)), shape.tilt.sd)],
        "steepest": [_within(shape.steepest.slope, float(slope), shape.steepest.sd)],
        "walls": [_profile_holds(house, wall) for wall in shape.walls],
        "section": [_profile_holds(house, floor.sections["s"])],
        "worst chord": [_profile_holds(house, shape.deflection)],
    }


def _within(value: float, truth: float, sd: float) -> bool:
    return abs(value - truth) <= 1.96 * sd


def _profile_holds(house: SimulatedHouse, found: Profile) -> bool:
    start, end = np.array(found.line)
    track = start + np.linspace(0, 1, POINTS)[:, None] * (end - start)
    offset = chord_removal(POINTS) @ house.truth.predict(track)[0]
    return _within(found.deflection, float(offset[np.argmax(np.abs(offset))]), found.sd)


def main(houses: int = 500) -> dict[str, float]:
    """Check the houses and print the shares, by kind of floor and in all."""
    found: dict[str, dict[str, list[bool]]] = defaultdict(lambda: defaultdict(list))
    begun = time.perf_counter()
    for seed in range(houses):
        for quantity, holds in held(draw(seed)).items():
            found[KINDS[seed % len(KINDS)]][quantity] += holds
            found["all"][quantity] += holds
    names = list(found["all"])
    print(f"{houses} houses of 20 to 100 stations, {time.perf_counter() - begun:.0f} s")
    print(f"{'':14}" + "".join(f"{name:>13}" for name in names))
    for kind, shares in found.items():
        print(f"{kind:14}" + "".join(f"{np.mean(shares[name]):13.1%}" for name in names))
    return {name: float(np.mean(holds)) for name, holds in found["all"].items()}


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
