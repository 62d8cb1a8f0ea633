"""What a table of readings does not tell: the day, the instrument, the outline of the floor.

Each is asked, with what is most likely where anything is; nothing is made up unasked.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from levelbook.exchange.cells import Unit
from levelbook.exchange.entries import Entry, Spot, Survey, step_of
from levelbook.exchange.outlines import Floor
from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.survey_table import plan_of

Json = dict[str, Any]
MARGIN = {"ft": 0.5, "m": 0.15}
"""How far a rectangle stands outside the places it is put round, plan units."""
NEW = "new"


@dataclass(frozen=True)
class Setting:
    """What stands around the readings: the file, a name for the house, the record, its floors."""

    file: str
    name: str
    into: Json | None = None
    floors: tuple[Floor, ...] = ()


def fresh_document(survey: Survey, setting: Setting, level: Unit, talk: Interview) -> Json:
    """Return a document with what stands at its head; asks the day of the visit."""
    day = talk.write("date", "On which day was it read? As 2026-03-02", _is_day)
    talk.used |= {"label"}
    label = talk.answers.get("label") or setting.name
    if "label" not in talk.answers:
        talk.assumed.append(f"The house is called {label!r}, after the file.")
    return {
        "format": "levelbook/1",
        "units": {"level": level, "plan": plan_of(survey.plan)},
        "property": {"label": label[:1000]},
        "visit": {"date": day or ""},
        "instruments": [],
        "areas": [],
        "finishes": [],
        "setups": [],
        "stations": [],
        "readings": [],
    }


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def choose_instrument(
    document: Json, survey: Survey, level: Unit, into: Json | None, talk: Interview
) -> Mapping[str, str] | None:
    """Return the instrument of every sense that the readings have; asks sense and spread.

    A table of this program's own tells the sense of each reading (signed against written);
    another tells it in a title, or does not.
    """
    tools = into["instruments"] if into else []
    if tools and (known := _known_instrument(tools, survey, talk)) != NEW:
        return None if known is None else {"": known}
    senses = _senses(survey)
    if not senses:
        options = {
            "more": "a higher floor gives a larger reading",
            "less": "a higher floor gives a smaller reading, as on a rod",
        }
        answer = talk.choose("sense", "How do the readings run?", options)
        senses = {""} if answer is None else {answer}
    step = float(step_of(survey.entries, survey.level, level))
    asks = f"How far does one reading scatter (one standard deviation, {level})?"
    usual = f"{step / 2:.6g}" if step else None
    sd = talk.write("sd", asks, _is_spread, usual)
    if sd is None or "" in senses:
        return None
    talk.assumed.append(f"Readings are taken as rounded to {step:g} {level}, the finest step seen.")
    made: dict[str, str] = {}
    for sense in sorted(senses):
        name = free_name("I", {tool["id"] for tool in document["instruments"]})
        document["instruments"].append(
            {"id": name, "kind": "other", "higher_reads": sense, "resolution": step,
             "sd": float(sd)}
        )  # fmt: skip
        made[sense if len(senses) > 1 else ""] = name
    return made


def _known_instrument(tools: Sequence[Json], survey: Survey, talk: Interview) -> str | None:
    """Return the instrument of the record that was used, ``NEW`` for another."""
    options = {
        tool["id"]: f"{tool['kind']}, a higher floor reads {tool['higher_reads']}"
        for tool in tools
        if survey.sense in (None, tool["higher_reads"])
    }
    options[NEW] = "another instrument"
    usual = next(iter(options)) if len(options) == 2 else None
    return talk.choose("instrument", "Which instrument was read?", options, usual)


def _senses(survey: Survey) -> set[str]:
    found = {sense_of(entry) for entry in survey.entries} - {""}
    return found or ({survey.sense} if survey.sense else set())


def sense_of(entry: Entry) -> str:
    """Return the sense that an entry of our own table tells; empty where it does not."""
    product = (entry.signed or 0.0) * float(entry.typed.value)
    return "" if product == 0 else "more" if product > 0 else "less"


def _is_spread(text: str) -> bool:
    try:
        return 0 < float(text) < 1000
    except ValueError:
        return False


def choose_floors(document: Json, survey: Survey, setting: Setting, talk: Interview) -> bool:
    """Give the document its areas; asks before one is made up."""
    if setting.floors:
        known = {area["id"] for area in document["areas"]}
        for floor in setting.floors:
            name = free_name(floor.name, known, plain=True)
            known.add(name)
            area = {"id": name, "kind": "living", "outline": floor.outline}
            document["areas"].append(area | ({"holes": floor.holes} if floor.holes else {}))
        return True
    if document["areas"]:
        return True
    asks = "The file has no outline of the floor. Which is to be put in?"
    says = "a rectangle round the places, to be drawn properly later (or name a file of outlines)"
    if talk.choose("outline", asks, {"rectangle": says}, "rectangle") is None:
        return False
    margin = MARGIN[document["units"]["plan"]]
    for name in dict.fromkeys(place.area or "floor" for place in survey.places):
        spots = [p.at for p in survey.places if (p.area or "floor") == name and p.at]
        if spots:
            area = {"id": name, "kind": "living", "outline": _rectangle(spots, margin)}
            document["areas"].append(area)
    told = "The outline is a rectangle round the places; coverage and tilt follow it."
    talk.assumed.append(told)
    return bool(document["areas"]) or _no_places()


def _no_places() -> bool:
    problem, remedy = "no station has a place", "give a second table with station, x and y"
    raise refused("import", "the table", problem, remedy)


def _rectangle(spots: Sequence[Spot], margin: float) -> list[list[float]]:
    west, east = min(x for x, _ in spots) - margin, max(x for x, _ in spots) + margin
    south, north = min(y for _, y in spots) - margin, max(y for _, y in spots) + margin
    return [[west, south], [east, south], [east, north], [west, north]]


def free_name(name: str, known: set[str], *, plain: bool = False) -> str:
    """Return a name that is not taken yet: itself if ``plain``, else with a number."""
    if plain and name not in known:
        return name
    number = 1 if not plain else 2
    while f"{name}{number}" in known:
        number += 1
    return f"{name}{number}"
