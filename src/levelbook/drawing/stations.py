"""Stations on the sheet: their symbols, the levels beside them, and what a tap tells."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from levelbook.drawing import symbols
from levelbook.drawing import theme as look
from levelbook.drawing.frame import Frame
from levelbook.drawing.labels import Label, Placed, place, text_label
from levelbook.drawing.occupancy import Occupancy
from levelbook.drawing.records import XY, Group, Pen, Record, Text
from levelbook.drawing.scene import Scene
from levelbook.drawing.source import Spot
from levelbook.drawing.wording import figure, number

_CHEAP, _FAIR, _LAST = 32.0, 90.0, 200.0
"""How dear a place may be: beside its dot, as a rule, and where nothing better is left."""

_ELBOW = 1.2
"""Room in millimetres round a dot that the labels of others leave free if they can."""

_FULL = 0.45
"""Share of the floor that levels may fill before leaders become a thicket."""

LEADER = Pen(look.SOFT, 0.12)


@dataclass(frozen=True, slots=True)
class Pin:
    """A station on the sheet with the text that belongs to it, ``None`` for a dot alone."""

    spot: Spot
    at: XY
    clear: float
    text: Text | None
    urgent: bool


def pins(scene: Scene, frame: Frame) -> tuple[Pin, ...]:
    """Return every station with its place and its text."""
    return tuple(_pin(scene, spot, frame.point(spot.station.at)) for spot in scene.spots)


def _pin(scene: Scene, spot: Spot, at: XY) -> Pin:
    theme = scene.theme
    told = scene.kind == "levels"
    special = told and (spot.extreme is not None or spot.role in {"zero", "own zero"})
    clear = theme.symbol if special else theme.dot + 0.1
    if told and spot.suspect:
        clear = max(clear, 1.3)
    text = _text(scene, spot) if told and spot.level is not None else None
    return Pin(spot, at, clear, text, special or spot.suspect)


def _text(scene: Scene, spot: Spot) -> Text | None:
    """Return the level as it stands on the plan."""
    theme = scene.theme
    if spot.level is None:
        return None
    said = number(spot.level, scene.decimals)
    size, tone, weight = theme.level, look.INK, 400
    if spot.extreme is not None:
        tone = look.HIGH if spot.extreme == "high" else look.LOW
        size, weight = theme.strong, 600
        if spot.sd:
            said = figure(spot.level, spot.sd, scene.decimals)
    elif spot.role in {"zero", "own zero"}:
        weight = 600
    if spot.stray:
        said, tone = f"({said})", look.SOFT
    if spot.suspect:
        said, tone, weight = f"{said} ?", look.DOUBT, 600
    return Text((0.0, 0.0), said, size, tone, weight, role="level")


def take_symbols(found: tuple[Pin, ...], sheet: Occupancy) -> None:
    """Take the room of all symbols, before any label is placed."""
    for pin in found:
        sheet.take_disc(pin.at, pin.clear)
        if not pin.urgent:
            sheet.crowd(pin.at, pin.clear + _ELBOW)


def _order(found: list[Pin], *, spread: bool) -> list[Pin]:
    """Return stations in the order they are labelled: crowded first, or spread out first."""
    if len(found) < 2:
        return found
    at = np.array([pin.at for pin in found])
    apart = np.hypot(*(at[:, None, :] - at[None, :, :]).transpose(2, 0, 1))
    if not spread:
        crowd = (apart < 9.0).sum(axis=1) - np.sort(apart, axis=1)[:, 1] / 1000
        return [found[i] for i in np.argsort(-crowd, kind="stable")]
    order = [int(np.argmin(at.sum(axis=1)))]
    nearest = apart[order[0]].copy()
    nearest[order[0]] = -1.0
    for _ in range(len(found) - 1):
        order.append(int(np.argmax(nearest)))
        nearest = np.minimum(nearest, apart[order[-1]])
        nearest[order[-1]] = -1.0
    return [found[i] for i in order]


def too_many(found: tuple[Pin, ...], room: float) -> bool:
    """Whether the levels would fill more of a room (mm²) than can be read with leaders."""
    wanted = sum((p.text.width + 0.6) * (p.text.size + 0.2) for p in found if p.text is not None)
    return wanted > _FULL * room


def label_urgent(scene: Scene, found: tuple[Pin, ...], sheet: Occupancy) -> dict[str, Placed]:
    """Place what matters most, high and low first; return the labels by station id."""
    urgent = [pin for pin in found if pin.urgent]
    urgent.sort(key=lambda pin: pin.spot.extreme is None)
    theme = scene.theme
    return dict(_placed(urgent, sheet, theme.level, theme.reach))


def label_others(
    scene: Scene, found: tuple[Pin, ...], sheet: Occupancy, *, beside: bool
) -> dict[str, Placed]:
    """Place the other levels; return the labels by station id.

    Where dots will stand without a level, a leader could be taken to name the wrong one: then
    only what fits right ``beside`` its dot is written.
    """
    theme = scene.theme
    others = [pin for pin in found if pin.text is not None and not pin.urgent]
    reach = None if beside else 3.0 if theme.thin_out else theme.reach
    return dict(_placed(_order(others, spread=beside), sheet, theme.least, reach))


def _placed(
    pins_in_order: list[Pin], sheet: Occupancy, least: float, reach: float | None
) -> Iterator[tuple[str, Placed]]:
    """Yield the labels that find a place, with the ids of their stations."""
    for pin in pins_in_order:
        for label in _tries(pin, least, reach):
            placed = place(label, sheet, LEADER)
            if placed is not None:
                yield pin.spot.station.id, placed
                break


def _tries(pin: Pin, least: float, reach: float | None) -> Iterator[Label]:
    """Yield the label of a station as it would best stand, then as it may have to.

    Rather smaller than across a wall, rather across a wall than far away.
    """
    if pin.text is None:
        return
    size, area = pin.text.size, pin.spot.station.area
    tries = [(size, reach, _CHEAP), (least, reach, _CHEAP)]
    if reach is not None:
        tries = [(size, reach, _FAIR), (least, reach, _FAIR)]
        tries += [(size, reach, _LAST), (least, reach, _LAST)]
    for each, limit, dearest in tries:
        text = replace(pin.text, size=each)
        label = text_label(text, pin.at, clear=pin.clear, reach=limit, area=area)
        yield replace(label, dearest=dearest, shy=pin.urgent)


def station_group(scene: Scene, pin: Pin, placed: Placed | None) -> Group:
    """Return one station with its symbol, its label and what it tells when tapped."""
    spot, book = pin.spot, scene.source.book
    said = "not read" if spot.role == "unread" else "reading struck"
    data: dict[str, str] = {"area": spot.station.area}
    if spot.level is not None:
        said = number(spot.level, scene.decimals)
        data["level"] = f"{spot.level:.{scene.decimals}f}"
        if spot.sd:
            said = figure(spot.level, spot.sd, scene.decimals)
            data["sd"] = f"{spot.sd:.4g}"
        said += f" {book.units.level}"
    if spot.stray:
        said += ", above another zero"
        data["stray"] = "yes"
    title = f"Station {spot.station.id}: {said}"
    items: tuple[Record, ...] = (*_symbol(scene, pin),)
    if placed is not None:
        items = (*items, *placed.records())
    return Group(items, "station", spot.station.id, title, pin.at, data)


def _symbol(scene: Scene, pin: Pin) -> Iterator[Record]:
    theme, spot, at = scene.theme, pin.spot, pin.at
    told = scene.kind == "levels"
    if told and spot.suspect:
        yield from symbols.doubt(at, max(1.2, pin.clear - 0.1))
    if told and spot.role in {"zero", "own zero"}:
        yield from symbols.zero(at, theme.symbol * 0.9, apart=spot.apart)
    elif told and spot.extreme is not None:
        yield from symbols.extreme(at, theme.symbol, up=spot.extreme == "high")
    elif spot.stray:
        yield from symbols.stray(at, theme.dot)
    elif spot.role == "struck":
        yield from symbols.cross(at, theme.dot)
    elif spot.role == "unread":
        yield from symbols.hollow(at, theme.dot * 1.2)
    else:
        yield from symbols.station(at, theme.dot)
