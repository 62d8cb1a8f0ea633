"""From what was read to a book: what no file tells is asked, then all is put together.

Into a book that exists, readings are added: its stations, finishes and areas are used where
the names are the same, new ones are added, and nothing that stands in it is changed.
"""

from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from fractions import Fraction
from typing import Any

import shapely

from levelbook.book.limits import READINGS, STATIONS
from levelbook.book.numbers import counted
from levelbook.exchange.cells import Unit, convert
from levelbook.exchange.entries import Entry, Place, Survey, in_unit
from levelbook.exchange.questions import Interview, refused
from levelbook.exchange.settle import (
    Setting,
    choose_floors,
    choose_instrument,
    free_name,
    fresh_document,
    sense_of,
)
from levelbook.exchange.survey_table import book_unit, marks_of, plan_of

Json = dict[str, Any]


def compose(survey: Survey, setting: Setting, talk: Interview) -> Json | None:
    """Return the document with the readings in it, or ``None`` while something is unclear.

    Raises
    ------
    DocumentError
        If there are no readings or too many, or none could be taken.
    """
    _check_counts(survey)
    into = setting.into
    level: Unit = into["units"]["level"] if into else book_unit(survey.level, survey.entries)
    entries = tuple(in_unit(entry, survey.level, level) for entry in survey.entries)
    entries = _marked(entries, talk)
    document = deepcopy(into) if into else fresh_document(survey, setting, level, talk)
    survey = replace(survey, places=_placed(survey, document["units"]["plan"]))
    tool = choose_instrument(document, survey, level, into, talk)
    floors = choose_floors(document, survey, setting, talk)
    if talk.open or tool is None or not floors:
        return None
    _add(document, survey, entries, tool, talk)
    _trace(document, setting.file, entries)
    return document


def _check_counts(survey: Survey) -> None:
    if not survey.entries:
        remedy = "look at what was left and why, or name the column of the readings"
        raise refused("import", "the table", "no reading could be taken from it", remedy)
    for what, count, most in (
        ("readings", len(survey.entries), READINGS),
        ("stations", len(survey.places), STATIONS),
    ):
        if count > most:
            problem = f"has {count:,} {what}; a book takes {most:,}"
            raise refused("too-many", "the table", problem, "split it into several visits")


def _marked(entries: tuple[Entry, ...], talk: Interview) -> tuple[Entry, ...]:
    """Return the entries with words beside the numbers taken as finishes, if they are."""
    marks = marks_of(entries)
    if not marks or any(entry.finish for entry in entries):
        return entries
    said = ", ".join(f"{mark!r} ({counted(count, 'time')})" for mark, count in marks.most_common(4))
    options = {"finish": "what is underfoot (the finish)", "note": "remarks"}
    answer = talk.choose("marks", f"Beside readings stands {said}. What is that?", options)
    if answer != "finish":
        return entries
    return tuple(
        replace(e, finish=e.typed.note.strip("()")) if e.typed.note in marks and e.typed.note else e
        for e in entries
    )


def _placed(survey: Survey, plan: Unit) -> tuple[Place, ...]:
    """Return the places in the plan unit of the book."""
    own = plan_of(survey.plan)
    if own == plan:
        return survey.places
    factor = float(convert(Fraction(1), own, plan))
    return tuple(
        replace(p, at=p.at and (p.at[0] * factor, p.at[1] * factor)) for p in survey.places
    )


def _add(
    document: Json,
    survey: Survey,
    entries: Sequence[Entry],
    tools: Mapping[str, str],
    talk: Interview,
) -> None:
    """Add stations, finishes, setups and readings to the document."""
    stations = {station["id"] for station in document["stations"]}
    before = len(stations)
    for place in survey.places:
        if place.id not in stations and (made := _station(document, place, talk)):
            document["stations"].append(made)
            stations.add(place.id)
    here = [entry for entry in entries if entry.station in stations]
    for entry in entries:
        if entry.station not in stations:
            talk.leave(entry.place, entry.cell, f"its station {entry.station} has no place")
    finish = _finishes(document, here, talk, own=survey.own)
    setup = _setups(document, here, tools, talk)
    _readings(document, here, finish, setup)
    if "reference" not in document:
        document["reference"] = _reference(here)
    readings = counted(len(here), "reading")
    at = counted(len({e.station for e in here}), "station")
    talk.taken.append(f"{readings} at {at}, {len(stations) - before} of them new.")


def _reference(entries: Sequence[Entry]) -> Json:
    """Return the first station with a reading that stands as the reference."""
    first = next((e for e in entries if not e.struck), None)
    if first is None:
        raise refused("import", "the table", "no reading could be taken", "see what was left")
    return {"station": first.station}


def _station(document: Json, place: Place, talk: Interview) -> Json | None:
    """Return a new station's record, in the area that holds it."""
    if place.at is None:
        return None
    areas = [a for a in document["areas"] if place.area in (None, a["id"])] or document["areas"]
    spot = shapely.Point(place.at)
    area = next((a["id"] for a in areas if _polygon(a).covers(spot)), None)
    if area is None:
        talk.leave(f"station {place.id}", f"{place.at}", "it stands outside every outline")
        return None
    told = {"note": place.note, "moved": place.moved}
    record: Json = {"id": place.id, "at": list(place.at), "area": area}
    return record | {key: text for key, text in told.items() if text}


def _polygon(area: Json) -> shapely.Polygon:
    return shapely.Polygon(area["outline"], area.get("holes", ()))


def _finishes(
    document: Json, entries: Sequence[Entry], talk: Interview, *, own: bool
) -> Callable[[Entry], str]:
    """Return what gives the finish of an entry; names that the document lacks are added.

    ``Tile`` is ``tile``, but not in a table of this program's ``own``.
    """
    alike: Callable[[str], str] = str if own else str.casefold
    known = {alike(f["name"]): f["id"] for f in document["finishes"]}
    known |= {alike(f["id"]): f["id"] for f in document["finishes"]}
    single = document["finishes"][0]["id"] if len(document["finishes"]) == 1 else None
    if any(entry.finish is None for entry in entries):
        talk.assumed.append("Readings without a finish are taken as being on one and the same.")
    usual = single or "floor"
    for entry in entries:
        name = entry.finish or usual
        if alike(name) not in known:
            document["finishes"].append({"id": name[:64], "name": name[:1000]})
            known[alike(name)] = name[:64]
    return lambda entry: known[alike(entry.finish or usual)]


def _setups(
    document: Json, entries: Sequence[Entry], tools: Mapping[str, str], talk: Interview
) -> Callable[[Entry], str]:
    """Return what gives the setup of an entry; new ones get the instrument of their sense."""
    known = {setup["id"] for setup in document["setups"]}
    fresh = _unused(document, tools) or free_name("A", known, plain=True)
    sense: dict[str, str] = {}
    for entry in entries:
        sense[entry.setup or fresh] = sense.get(entry.setup or fresh) or sense_of(entry)
    for name, own in sense.items():
        if name not in known:
            tool = tools.get(own) or tools.get("") or next(iter(tools.values()))
            document["setups"].append({"id": name, "instrument": tool})
    if any(entry.setup is None for entry in entries):
        talk.assumed.append(f"Readings without a setup are taken as read from one, {fresh!r}.")
    return lambda entry: entry.setup or fresh


def _unused(document: Json, tools: Mapping[str, str]) -> str | None:
    """Return a setup of the instrument that was read and has no readings yet, if there is one."""
    used = {reading["setup"] for reading in document["readings"]}
    fit = (s["id"] for s in document["setups"] if s["instrument"] in tools.values())
    return next((name for name in fit if name not in used), None)


def _readings(
    document: Json,
    entries: Sequence[Entry],
    finish: Callable[[Entry], str],
    setup: Callable[[Entry], str],
) -> None:
    names = _names(document, entries)
    for entry, name, after in zip(entries, names, [*names[1:], ""], strict=True):
        record: Json = {"id": name, "setup": setup(entry), "station": entry.station}
        record |= {"finish": finish(entry), "value": entry.typed.text}
        instead = after if entry.by_next else entry.instead
        told = {"time": entry.time, "instead": instead, "note": entry.note}
        record |= {"struck": True} if entry.struck else {}
        document["readings"].append(record | {k: text for k, text in told.items() if text})


def _names(document: Json, entries: Sequence[Entry]) -> list[str]:
    """Return the name of each reading: its own, or the next that is free."""
    taken = {reading["id"] for reading in document["readings"]}
    taken |= {entry.id for entry in entries if entry.id}
    names: list[str] = []
    number = 0
    for entry in entries:
        name = entry.id
        while name is None or (name in taken and name != entry.id):
            number += 1
            name = f"r{number}"
        taken.add(name)
        names.append(name)
    return names


def _trace(document: Json, name: str, entries: Sequence[Entry]) -> None:
    """Note in the document where these readings came from."""
    extra = document.setdefault("extra", {})
    done = extra.setdefault("imports", [])
    if isinstance(done, list):
        done.append({"file": name, "readings": len(entries)})
