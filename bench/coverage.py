"""How often 95 % intervals hold the truth, over simulated houses of every kind.

Run as ``python bench/coverage.py [houses]``. Each house has its own kind of floor, number of
stations, reading error and unevenness; what is checked are the levels of the stations, the
surface at places (against the zero), its tilt over the footprint, slopes between stations
and deflections at given places of sections. Intervals are mean ± 1.96 sd.
"""

import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from levelbook.floor.fit import fit_surface
from levelbook.floor.floors import KINDS
from levelbook.floor.footprint import Footprint, footprint
from levelbook.floor.model import Array, TooFew
from levelbook.floor.simulate import Recipe, SimulatedHouse, simulate_house
from levelbook.floor.surface import Surface
from levelbook.levels.reduction import reduce

Scores = Mapping[str, Array]  # (truth - mean) / sd by quantity


@dataclass(frozen=True)
class Trial:
    """One simulated house: its recipe and its scores."""

    recipe: Recipe
    scores: Scores


def draw_recipe(rng: np.random.Generator, kind: str) -> Recipe:
    """Return a house of one kind with everything else at random."""
    return Recipe(
        kind=kind,
        stations=int(rng.integers(30, 151)),
        sd=float(rng.uniform(0.03, 0.07)),
        unevenness=float(rng.uniform(0.0, 0.08)),
        plan="L" if rng.random() < 0.5 else "rectangle",
    )


def trials(houses: int, seed: int = 20260301) -> list[Trial]:
    """Simulate and fit houses, all kinds in turn."""
    done = []
    for k in range(houses):
        rng = np.random.default_rng([seed, k])
        recipe = draw_recipe(rng, KINDS[k % len(KINDS)])
        done.append(Trial(recipe, scores(simulate_house(rng, recipe), rng)))
    return done


def scores(house: SimulatedHouse, rng: np.random.Generator) -> Scores:
    """Fit one house and return the scores of every quantity."""
    levels = reduce(house.book)
    surface = fit_surface(levels, house.book, "house")
    if isinstance(surface, TooFew):
        raise SystemExit(f"too few stations in a simulated house: {surface}")
    place = footprint(house.book.areas[0])
    level = np.array([house.levels[i] for i in levels.ids]) - levels.level
    sd = np.array([levels.stations[i].sd for i in levels.ids])
    spots = place.cells(25).xy
    questions = {
        "surface": (np.eye(len(spots)), spots),
        "tilt": tilt_weights(place),
        "slopes": slope_weights(surface.xy, rng),
        "deflection": deflection_weights(place, rng),
    }
    answers = {name: _score(surface, house, *asked) for name, asked in questions.items()}
    return {"levels": level[sd > 0] / sd[sd > 0], **answers}


def _score(surface: Surface, house: SimulatedHouse, weights: Array, at: Array) -> Array:
    mean, covariance = surface.functional(weights, at)
    true, _ = house.truth.functional(weights, at)
    return np.asarray((true - mean) / np.sqrt(np.diag(covariance)))


def tilt_weights(place: Footprint) -> tuple[Array, Array]:
    """Return weights (2, m) and places (m, 2) of the least-squares plane's two slopes."""
    cells = place.cells(400)
    design = np.column_stack([np.ones(len(cells.xy)), cells.xy])
    weighted = design.T * cells.share
    return np.linalg.solve(weighted @ design, weighted)[1:], cells.xy


def slope_weights(xy: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return weights and places of the slopes of 30 pairs of stations over 10 ft apart."""
    pairs = rng.integers(0, len(xy), (200, 2))
    apart = np.hypot(*(xy[pairs[:, 0]] - xy[pairs[:, 1]]).T)
    pairs, apart = pairs[apart > 10.0][:30], apart[apart > 10.0][:30]
    rows = np.arange(len(pairs))
    weights = np.zeros((len(pairs), len(xy)))
    weights[rows, pairs[:, 0]], weights[rows, pairs[:, 1]] = 1 / apart, -1 / apart
    return weights, xy


def deflection_weights(place: Footprint, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return weights and places of the offsets from the chords of walls and of random lines."""
    cells = place.cells(300).xy
    ends = [(wall[0], wall[1]) for wall in place.walls if np.hypot(*(wall[1] - wall[0])) > 12]
    while len(ends) < 16:
        one, other = cells[rng.integers(0, len(cells), 2)]
        if np.hypot(*(one - other)) > 20:
            ends.append((one, other))
    weights, at = np.zeros((3 * len(ends), 9 * len(ends))), []
    for k, (one, other) in enumerate(ends):
        for j, share in enumerate((0.25, 0.5, 0.75)):
            row, column = 3 * k + j, 9 * k + 3 * j
            weights[row, column : column + 3] = 1.0, share - 1.0, -share
            at += [one + share * (other - one), one, other]
    return weights, np.array(at)


def held(values: Array) -> float:
    """Return the share of scores within 1.96."""
    return float(np.mean(np.abs(values) < 1.96))


def table(done: list[Trial]) -> str:
    """Return the shares held, by kind of floor, by number of stations, and in all."""
    names = list(done[0].scores)
    groups = {kind: [t for t in done if t.recipe.kind == kind] for kind in KINDS}
    for low, high in ((30, 60), (60, 100), (100, 151)):
        groups[f"{low} to {high - 1} stations"] = [
            t for t in done if low <= t.recipe.stations < high
        ]
    groups["all"] = done
    lines = [f"{'':22}{'houses':>8}" + "".join(f"{n:>12}" for n in names)]
    for title, some in groups.items():
        if some:
            shares = [held(np.concatenate([t.scores[n] for t in some])) for n in names]
            row = "".join(f"{100 * s:11.1f}%" for s in shares)
            lines.append(f"{title:22}{len(some):8}{row}")
    return "\n".join(lines)


def main(houses: int = 500) -> bool:
    """Print the coverage of ``houses`` houses; whether every quantity holds 92 to 98 %."""
    start = time.perf_counter()
    done = trials(houses)
    print(f"coverage of 95 % intervals, {houses} simulated houses")
    print(table(done))
    print(f"{(time.perf_counter() - start) / houses * 1e3:.0f} ms a house")
    pooled = [held(np.concatenate([t.scores[n] for t in done])) for n in done[0].scores]
    return all(0.92 <= share <= 0.98 for share in pooled)


if __name__ == "__main__":
    sys.exit(0 if main(*map(int, sys.argv[1:])) else 1)
