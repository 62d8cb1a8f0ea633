"""The result document of garage floors and the ground outside."""

from dataclasses import asdict

from levelbook.findings.model import NoGarage, Water
from levelbook.findings.plain import Json, Table, plain, record
from levelbook.floor.garage import Garage, Trail
from levelbook.floor.low_spots import LowSpot


def water_document(water: Water) -> Table:
    """Return the keys ``garage`` (the first with a vehicle door), ``garages`` and ``grades``."""
    main = water.main
    return {
        "garage": None if main is None else _garage(main),
        "garages": {area: _garage(found) for area, found in water.garages.items()},
        "grades": [record(each) for each in water.grades],
    }


def _garage(found: Garage | NoGarage) -> Table:
    if isinstance(found, NoGarage):
        if found.stations is None:
            return {"area": found.area, "no_vehicle_door": True}
        return {"area": found.area, "too_few": found.stations, "needs": found.needs}
    heaters = [trail for trail in found.trails if trail.label == "water-heater"]
    others = [trail for trail in found.trails if trail.label != "water-heater"]
    return {
        "area": found.area,
        "fall": found.fall.value,
        "fall_sd": found.fall.sd,
        "depth": found.fall.depth,
        "slope": found.slope,
        "slope_sd": found.slope_sd,
        "toward": found.toward,
        "resultant": found.resultant,
        "resultant_sd": found.resultant_sd,
        "drains_to_door": found.shares.door,
        "drains_to_drain": found.shares.drain,
        "drains_to_house": found.shares.wall,
        "stands": found.shares.stands,
        "shares_sd": plain(asdict(found.shares_sd)),
        "shares_low": plain(asdict(found.shares_low)),
        "shares_high": plain(asdict(found.shares_high)),
        "likely_clear": found.clear,
        "low_spots": [_spot(spot) for spot in found.low_spots],
        "from_water_heater": _trail(heaters[0]) if heaters else None,
        "from": [_trail(trail) for trail in (*heaters[1:], *others)],
        "verdict": found.verdict,
    }


def _spot(spot: LowSpot) -> Json:
    table = record(spot)
    del table["rings"]
    return table


def _trail(trail: Trail) -> Json:
    return record(trail)
