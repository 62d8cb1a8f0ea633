"""Remarks on how the readings were taken: closing checks, reach, checks, steps, what is unused."""

import math
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from levelbook.book.faults import show
from levelbook.book.model import Instrument, InstrumentCheck
from levelbook.book.numbers import parse_value
from levelbook.book.survey import Notice, Survey, named

#: A setup with more readings than this is worth a closing check.
_MANY = 5


def closing_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on setups in which no station was read again."""
    for i, setup in enumerate(survey.book.setups):
        own = survey.by_setup.get(setup.id, [])
        again = Counter((one.station, one.finish) for one in own)
        if len(own) > _MANY and max(again.values()) == 1:
            sentence = f"Setup {show(setup.id)} has {len(own)} readings and no closing check."
            remedy = "Read its first station again at the end, so that a drift would show."
            yield Notice("no-closing-check", f"setups[{i}]", sentence, remedy)


def reach_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on stations farther from the base than the instrument reaches."""
    instruments = {one.id: one for one in survey.book.instruments}
    for i, setup in enumerate(survey.book.setups):
        reach = instruments[setup.instrument].reach
        if setup.base is None or reach is None:
            continue
        names = dict.fromkeys(one.station for one in survey.by_setup.get(setup.id, []))
        far = [n for n in names if math.dist(setup.base, survey.stations[n].at) > reach + 1e-9]
        if far:
            sentence = (
                f"From the base of setup {show(setup.id)}, {named('station', far, 'is', 'are')} "
                f"farther than the {survey.told(reach)} that the instrument reaches."
            )
            remedy = "Check where the base stood, and the places of these stations."
            yield Notice("beyond-reach", f"setups[{i}].base", sentence, remedy)


def check_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on checks of an instrument that are off by more than its resolution."""
    unit = survey.book.units.level
    for i, instrument in enumerate(survey.book.instruments):
        for k, check in enumerate(instrument.checks):
            if abs(_off(check, instrument)) > _step(instrument):
                sentence = (
                    f"Instrument {show(instrument.id)} read {check.read} {unit} for a step of "
                    f"{check.known} {unit} on {check.date}, off by more than its resolution."
                )
                remedy = "Check it again, and find out why before relying on the levels."
                place = f"instruments[{i}].checks[{k}]"
                yield Notice("check-off", place, sentence, remedy)


def _off(check: InstrumentCheck, instrument: Instrument) -> Fraction:
    """Return how far a check is off; a rod may be told with either sign."""
    known, read = parse_value(check.known), parse_value(check.read)
    return read - known if instrument.higher_reads == "more" else abs(read) - abs(known)


def _step(instrument: Instrument) -> Fraction:
    """Return the smallest step of an instrument as written."""
    return Fraction(str(instrument.resolution))


def step_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on readings between the steps that their instrument shows."""
    instruments = {one.id: one for one in survey.book.instruments}
    steps = {one.id: _step(instruments[one.instrument]) for one in survey.book.setups}
    setups = {one.id: one.instrument for one in survey.book.setups}
    odd: dict[str, list[str]] = {}
    for one in survey.standing:
        step = steps[one.setup]
        if step and parse_value(one.value) % step:
            odd.setdefault(setups[one.setup], []).append(one.id)
    for i, instrument in enumerate(survey.book.instruments):
        if instrument.id in odd:
            between = named("reading", odd[instrument.id], "lies", "lie")
            sentence = (
                f"Instrument {show(instrument.id)} reads in steps of {instrument.resolution:g} "
                f"{survey.book.units.level}; {between} between."
            )
            remedy = "Check what was written, or the resolution."
            yield Notice("off-step", f"instruments[{i}].resolution", sentence, remedy)


def struck_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on struck readings that nothing replaces."""
    there = {(one.station, one.finish) for one in survey.standing}
    for i, one in enumerate(survey.book.readings):
        if one.struck and one.instead is None and (one.station, one.finish) not in there:
            sentence = f"Reading {show(one.id)} is struck and no other stands in its place."
            remedy = "Read the station again if it can still be reached."
            yield Notice("struck-alone", f"readings[{i}]", sentence, remedy)


def unused_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on setups, finishes, instruments and stations that no standing reading needs."""
    book, standing = survey.book, survey.standing
    used = {
        "instruments": {one.instrument for one in book.setups},
        "finishes": {one.finish for one in standing},
        "setups": {one.setup for one in standing} | {one.setup for one in book.grades},
        "stations": {one.station for one in standing},
    }
    lacks = {"instruments": "without a setup"}
    for key, names in used.items():
        idle = {one.id: i for i, one in enumerate(getattr(book, key)) if one.id not in names}
        if idle:
            word = {"finishes": "finish"}.get(key, key[:-1])
            which = named(word.capitalize(), list(idle), "is", "are")
            sentence = f"{which} {lacks.get(key, 'without a reading that stands')}."
            remedy = "Add what is missing, or leave it as a note of what was there."
            yield Notice("unused", f"{key}[{min(idle.values())}]", sentence, remedy)


def garage_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on garages read from a setup that also read another floor."""
    areas = {one.id: one.area for one in survey.book.stations}
    seen: dict[str, set[str]] = {}
    for one in survey.standing:
        seen.setdefault(one.setup, set()).add(areas[one.station])
    for i, area in enumerate(survey.book.areas):
        shared = [name for name, floors in seen.items() if area.id in floors and len(floors) > 1]
        if area.kind == "garage" and shared:
            sentence = (
                f"Garage {show(area.id)} was not zeroed apart: "
                f"{named('setup', shared, 'reads', 'read')} another floor as well."
            )
            remedy = "Its fall stands; give the step between the floors as a finish of its own."
            yield Notice("garage-zero", f"areas[{i}]", sentence, remedy)


def place_notices(survey: Survey) -> Iterator[Notice]:
    """Remark on garages without a vehicle door, and stations at one place."""
    for i, area in enumerate(survey.book.areas):
        if area.kind == "garage" and area.vehicle_door is None:
            sentence = f"Garage {show(area.id)} has no vehicle door."
            remedy = "Give it as 'vehicle_door', so that the fall toward it can be told."
            yield Notice("no-vehicle-door", f"areas[{i}]", sentence, remedy)
    first: dict[tuple[str, float, float], str] = {}
    for i, one in enumerate(survey.book.stations):
        spot = (one.area, round(one.at[0], 2), round(one.at[1], 2))
        if first.setdefault(spot, one.id) != one.id:
            sentence = f"Stations {show(first[spot])} and {show(one.id)} are at one place."
            remedy = "If they are one station, give both readings to it: that makes a pair or tie."
            yield Notice("same-place", f"stations[{i}].at", sentence, remedy)
