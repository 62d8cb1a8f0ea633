"""How many slips of the pen are found, and how many sound readings are flagged.

Simulated houses of 30 to 100 stations and every kind of floor, each examined three times: as
read, with one decimal slip in a reading of 0.2 in or more, and with one sign slip in a
reading of 0.4 in or more.
"""

import sys
import time
from collections import Counter

import numpy as np

from levelbook.book.numbers import parse_value
from levelbook.floor.floors import KINDS
from levelbook.floor.simulate import SimulatedHouse, simulate_house
from levelbook.floor.suspects import find_suspects
from levelbook.levels import reduce

KINDS_OF_SLIP = ("none", "decimal", "sign")


def examine(house: SimulatedHouse) -> Counter[str]:
    """Count readings, slips, slips found and named, and sound readings flagged."""
    suspects = {s.reading: s for s in find_suspects(house.book, reduce(house.book))}
    slips = {s.reading: s for s in house.slips}
    named = [
        i
        for i in slips.keys() & suspects.keys()
        if suspects[i].kind == slips[i].kind
        and parse_value(suspects[i].suggestion or "0") == parse_value(slips[i].meant)
    ]
    return Counter(
        sound=len(house.book.readings) - len(slips),
        flagged=len(suspects.keys() - slips.keys()),
        slips=len(slips),
        found=len(slips.keys() & suspects.keys()),
        named=len(named),
    )


def draw(seed: int, slip: str) -> SimulatedHouse:
    """Draw one house; the seed alone decides its kind and size."""
    rng = np.random.default_rng([20260115, seed])
    return simulate_house(
        rng,
        kind=KINDS[seed % len(KINDS)],
        stations=int(rng.integers(30, 101)),
        unevenness=0.05,
        plan="L" if seed % 2 else "rectangle",
        decimal_slips=int(slip == "decimal"),
        sign_slips=int(slip == "sign"),
    )


def main(houses: int = 500) -> dict[str, Counter[str]]:
    """Examine the houses and print a row a kind of slip; returns the counts."""
    counts = {slip: Counter[str]() for slip in KINDS_OF_SLIP}
    print(f"{houses} houses, 30 to 100 stations, sd 0.05 in, read to 0.1 in, unevenness 0.05 in")
    for slip in KINDS_OF_SLIP:
        begun = time.perf_counter()
        for seed in range(houses):
            counts[slip].update(examine(draw(seed, slip)))
        spent = (time.perf_counter() - begun) / houses
        print(f"{slip:8s} {row(counts[slip])}; {1000 * spent:.0f} ms a house")
    return counts


def row(count: Counter[str]) -> str:
    """Return one row of the table."""
    flagged = f"{count['flagged']} of {count['sound']} sound readings flagged"
    share = f"{count['flagged'] / count['sound']:.2%}"
    if not count["slips"]:
        return f"{flagged} ({share})"
    found, named = count["found"] / count["slips"], count["named"] / count["slips"]
    return f"found {found:.1%}, named rightly {named:.1%} of {count['slips']}; {flagged} ({share})"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
