"""How often the comparison of two visits errs, what it finds, and how long it takes.

Simulated houses of 40 stations read to 0.1 in with a standard deviation of 0.05 in before
rounding, visited twice with a new zero and coverings of new thickness: nothing moved, a corner
gone down by 0.5 in smoothly or like a broken slab, on one covering or three. All pairs have
fixed seeds. Times are processor times.
"""

import sys
import time
from dataclasses import dataclass

import numpy as np

from levelbook.floor.footprint import footprint
from levelbook.floor.simulate import simulate_house
from levelbook.floor.tilt import plane_weights
from levelbook.levels import reduce
from levelbook.movement import Comparison, Visit, compare
from levelbook.movement.series import follow
from levelbook.movement.simulate import Drop, second_visit

SD = 0.05
CASES = (
    ("nothing moved, one covering", 0.0, 2.0, 1),
    ("nothing moved, three coverings", 0.0, 2.0, 3),
    ("smooth corner, one covering", 0.5, 2.0, 1),
    ("smooth corner, three coverings", 0.5, 2.0, 3),
    ("broken corner, one covering", 0.5, 1.0, 1),
    ("broken corner, three coverings", 0.5, 1.0, 3),
)


@dataclass(frozen=True)
class Pair:
    """A comparison with the truth: the stations' movement, and the drop it comes from."""

    found: Comparison
    moved: dict[str, float]
    drop: Drop


def visits(
    seed: int, size: float, power: float, finishes: int, stations: int = 40
) -> tuple[Visit, Visit, dict[str, float], Drop]:
    """Return one simulated pair of visits, the stations' true movement, and the drop."""
    rng = np.random.default_rng([20261125, seed])
    house = simulate_house(
        rng, kind="dome", stations=stations, sd=SD, finishes=finishes, setups=min(finishes, 2)
    )
    corners = house.book.areas[0].outline
    drop = Drop(corners[rng.integers(4)], size, float(rng.uniform(12.0, 22.0)), power)
    rise = drop.height(np.array([s.at for s in house.book.stations]))
    moved = {s.id: float(r) for s, r in zip(house.book.stations, rise, strict=True)}
    later = second_visit(rng, house, moved, SD)
    return Visit(house.book, reduce(house.book)), Visit(later, reduce(later)), moved, drop


def pair(seed: int, size: float, power: float, finishes: int) -> Pair:
    """Return one simulated comparison."""
    first, second, moved, drop = visits(seed, size, power, finishes)
    return Pair(compare(first, second), moved, drop)


def jaccard(each: Pair) -> float | None:
    """Return how well the named stations are the moved ones.

    Over stations that moved by 1.5 times their least detectable change or more, or not at all;
    ``None`` where none moved so much.
    """
    told = each.found.movements.stations
    clear = {i for i, s in told.items() if abs(each.moved[i]) >= 1.5 * (s.least_detectable or 1e9)}
    still = {i for i in told if each.moved[i] == 0.0}
    named = {i for i, s in told.items() if s.significant} & (clear | still)
    return len(named & clear) / len(named | clear) if clear else None


def covered(each: Pair) -> float:
    """Return the share of the stations' 95 % intervals that hold the true movement."""
    told = each.found.movements.stations.items()
    hits = [abs((s.moved or 0.0) - each.moved[i]) <= 1.96 * (s.sd or 0.0) for i, s in told]
    return float(np.mean(hits))


def tilt_covered(each: Pair) -> bool:
    """Tell whether the 95 % ellipse of the change of tilt holds the true one."""
    tilt = each.found.areas["house"].tilt
    if tilt is None:
        return False
    cells = footprint(each.found.earlier.book.areas[0]).cells(1500)
    true = plane_weights(cells.xy, cells.share) @ each.drop.height(cells.xy) / 12
    off = np.array([tilt.x, tilt.y]) - true
    return bool(off @ np.linalg.solve(np.array(tilt.covariance), off) <= 5.991)


def rates(pairs: list[Pair]) -> dict[str, float]:
    """Return the rates of one case."""
    named = [any(s.significant for s in p.found.movements.stations.values()) for p in pairs]
    tested = [bool(p.found.congruence.moved) for p in pairs]
    areas = [p.found.areas["house"] for p in pairs]
    scores = [score for score in map(jaccard, pairs) if score is not None]
    least = [s.least_detectable or 0.0 for p in pairs for s in p.found.movements.stations.values()]
    return {
        "test": float(np.mean(tested)),
        "named": float(np.mean(named)),
        "either": float(np.mean(np.array(tested) | np.array(named))),
        "cover": float(np.mean([covered(p) for p in pairs])),
        "jaccard": float(np.mean(scores)) if scores else float("nan"),
        "least": float(np.mean(least)),
        "tilt": float(np.mean([bool(a.tilt and a.tilt.significant) for a in areas])),
        "tilt cover": float(np.mean([tilt_covered(p) for p in pairs])),
        "bend": float(np.mean([bool(a.deflection and a.deflection.significant) for a in areas])),
        "range": float(np.mean([bool(a.range and a.range.significant) for a in areas])),
        "middle agrees": float(np.mean([p.found.datum.agree for p in pairs])),
    }


def main(houses: int = 500) -> dict[str, dict[str, float]]:
    """Print a row a case and the times; returns the rates."""
    print(f"{houses} pairs a case, 40 stations, sd {SD} in, read to 0.1 in")
    out = {}
    for title, size, power, finishes in CASES:
        found = rates([pair(seed, size, power, finishes) for seed in range(houses)])
        if not out:
            print(f"{'':32}" + "".join(f"{name:>14}" for name in found))
        print(f"{title:32}" + "".join(f"{rate:14.3f}" for rate in found.values()), flush=True)
        out[title] = found
    for count, seen in ((150, 2), (400, 10)):
        print(f"{seen} visits of {count} stations: {timed(count, seen):.0f} ms warm")
    return out


def timed(stations: int, seen: int) -> float:
    """Return milliseconds of processor time, the best of five, levels already adjusted."""
    first, second, _, _ = visits(1, 0.5, 2.0, 3, stations)
    many = [first, *[second] * (seen - 1)]
    best = np.inf
    for _ in range(6):
        start = time.process_time()
        if seen == 2:
            compare(first, second)
        else:
            follow(many)
        best = min(best, time.process_time() - start)
    return 1000 * best


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
