"""Figures of an archive in words and as a document: never one without its interval."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from levelbook.archive.evaluation.figures import (
    ALL,
    LEAST,
    By,
    Group,
    Houses,
    Placed,
    Spread,
)
from levelbook.archive.evaluation.quantiles import SHARES, Quantile, needed, told_share
from levelbook.archive.evaluation.work import program
from levelbook.book.units import convert
from levelbook.findings.display import length_text, one_in, one_in_text, slope_text, stepped

TITLES = {"range": "Highest less lowest", "tilt": "Tilt", "deflection_ratio": "Deflection ratio"}
CAUTIONS = (
    "An archive holds the houses that somebody wanted measured; it is no sample of all houses.",
    "What is usual here need not be sound, and what is rare need not be damage.",
    "The readings' own errors are in these figures: the floors are spread a little less.",
)
NO_HOUSES = (
    "There is no house to tell figures of. The file failures.json in the folder tells which "
    "visits have none and why. Visits with readings that look like slips count once those are "
    "confirmed."
)
_STEPS = {"in": "0.01", "mm": "0.1"}


@dataclass(frozen=True)
class HousePlaced:
    """A house that was placed: of which kind, and its figures."""

    kind: str
    placed: tuple[Placed, ...]
    suspects: int


def document(
    houses: Houses, by: By, groups: Sequence[Group], house: HousePlaced | None
) -> dict[str, Any]:
    """Return figures of an archive as JSON, in millimetres and rise over run."""
    told: dict[str, Any] = {"program": program(), "by": by, "visits": houses.visits}
    told |= {"houses": len(houses.rows), "left_out": {"slips": houses.slips}}
    told |= {"groups": [asdict(group) for group in groups], "cautions": list(CAUTIONS)}
    if house is not None:
        sentences = list(house_sentences(house, houses.unit))
        told["house"] = asdict(house) | {"sentences": sentences}
    return told


def house_sentences(house: HousePlaced, unit: str) -> tuple[str, ...]:
    """Return where a house stands, a sentence for each figure; lengths in ``unit``."""
    told = [_place_sentence(each, house.kind, unit) for each in house.placed]
    if not told:
        told.append("This book has too few readings for a floor that could be placed.")
    if house.suspects:
        told.append(
            f"Readings of this house that look like slips: {house.suspects}; see to them first, "
            "since they may be what sets it apart."
        )
    return tuple(told)


def _place_sentence(placed: Placed, kind: str, unit: str) -> str:
    lead = f"{TITLES[placed.quantity]}, {figure_text(placed, unit)}"
    of_kind = "" if kind == ALL else f" of its kind ({kind})"
    if placed.among is None:
        return f"{lead}: not placed; other houses{of_kind}: {placed.count}, needed: {LEAST}."
    share, low, high = told_share(placed.among)
    return (
        f"{lead}: above about {share} % of the {placed.count} other houses{of_kind}; "
        f"with 95 % confidence between {low} and {high} %."
    )


def figure_text(placed: Placed, unit: str) -> str:
    """Return a house's own figure with its give-or-take."""
    if placed.quantity == "range":
        scale = convert(1.0, "mm", unit)
        value, half = length_text(placed.value * scale, placed.sd * scale, unit)
        return f"{value} ± {half} {unit}"
    if placed.quantity == "tilt":
        value, half = slope_text(placed.value, placed.sd, "percent")
        return f"{value} ± {half} percent"
    return one_in_text(placed.value, placed.sd)


def cells(spread: Spread, unit: str) -> list[str]:
    """Return every quantile of :data:`SHARES` with its interval as text, a dash without one."""
    found = {each.share: each for each in spread.quantiles}
    return [_cell(found.get(share), spread.quantity, unit) for share in SHARES]


def _cell(found: Quantile | None, quantity: str, unit: str) -> str:
    if found is None:
        return "–"
    if quantity == "deflection_ratio":
        steep = one_in(found.high, lambda n: math.floor(n + 1e-9)) or "flat"
        gentle = one_in(found.low, lambda n: math.ceil(n - 1e-9)) or "flat"
        return f"1 in {one_in(found.value) or 'flat'}\n({steep} to {gentle})"
    scale, step = 100.0, "0.01"
    if quantity == "range":
        scale, step = convert(1.0, "mm", unit), _STEPS[unit]
    low, high = (
        _outward(found.low * scale, step, math.floor),
        _outward(found.high * scale, step, math.ceil),
    )
    return f"{stepped(found.value * scale, step)}\n({low} to {high})"


def _outward(value: float, step: str, rounding: Callable[[float], int]) -> str:
    size = float(step)
    slack = -1e-9 if rounding is math.ceil else 1e-9
    return stepped(rounding(value / size + slack) * size, step)


def headings() -> tuple[str, ...]:
    """Return what stands over the columns of :func:`cells`."""
    names: Mapping[float, str] = {0.25: "a quarter below", 0.5: "middle", 0.75: "a quarter above"}
    return tuple(names.get(share, f"{100 * share:.0f} of 100 below") for share in SHARES)


def title(quantity: str, unit: str) -> str:
    """Return the title of a quantity's table, with the unit of its cells."""
    units = {"range": unit, "tilt": "percent", "deflection_ratio": "length over deflection"}
    return f"{TITLES[quantity]}, {units[quantity]}"


def doubt_text(spread: Spread, unit: str) -> str:
    """Return how sure the figures of a group are by themselves, as a standard deviation."""
    if not spread.count:
        return "–"
    if spread.quantity == "range":
        return f"{spread.doubt * convert(1.0, 'mm', unit):.2g}"
    if spread.quantity == "tilt":
        return f"{100 * spread.doubt:.2g}"
    return f"1 in {one_in(spread.doubt) or 'more'}"


def reading_note() -> str:
    """Return how the tables are read, and from how many houses on a quantile is told."""
    least = ", ".join(f"{100 * s:.0f}: {needed(s)}" for s in SHARES[:3])
    return (
        "In brackets the 95 % interval, by order statistics. A dash: too few houses for one "
        f"(needed for {least} of 100). sd: the readings' own, root mean square."
    )
