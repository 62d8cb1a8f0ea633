"""Small symbols, drawn as shapes: no symbol is ever a character of a typeface."""

from collections.abc import Callable
from itertools import pairwise
from math import cos, hypot, pi, radians, sin

import numpy as np

from levelbook.drawing import theme as look
from levelbook.drawing.records import (
    XY,
    Array,
    Circle,
    Fill,
    Line,
    Path,
    Pen,
    Polygon,
    Record,
    Text,
)

_WHITE = Fill(look.PAPER)
_INK = Fill(look.INK)

Symbol = Callable[[XY, float], tuple[Record, ...]]


def arc(at: XY, radius: float, start: float, end: float) -> Array:
    """Return points along an arc; angles in degrees clockwise from up the sheet."""
    count = max(3, int(abs(end - start) / 9) + 2)
    t = np.radians(np.linspace(start, end, count))
    return np.column_stack([at[0] + radius * np.sin(t), at[1] - radius * np.cos(t)])


def _box(at: XY, wide: float, tall: float) -> Array:
    x, y, w, h = *at, wide / 2, tall / 2
    return np.array([[x - w, y - h], [x + w, y - h], [x + w, y + h], [x - w, y + h]])


def zero(at: XY, size: float, *, apart: bool = False) -> tuple[Record, ...]:
    """Return the zero: a quartered disc; a quartered square where the zero is its own."""
    pen = Pen(look.INK, 0.2)
    if apart:
        s = size * 0.85
        quarters = (
            _box((at[0] - s / 2, at[1] - s / 2), s, s),
            _box((at[0] + s / 2, at[1] + s / 2), s, s),
        )
        return (
            Polygon((_box(at, 2 * s, 2 * s),), _WHITE, pen, role="own-zero"),
            Polygon(quarters, _INK, role="own-zero"),
        )
    wedges = tuple(np.vstack([arc(at, size, a, a + 90), [at]]) for a in (0, 180))
    return (
        Circle(at, size, _WHITE, pen, role="zero"),
        Polygon(wedges, _INK, role="zero"),
    )


def extreme(at: XY, size: float, *, up: bool) -> tuple[Record, ...]:
    """Return the triangle of the highest (pointing up) or lowest station."""
    tone = look.HIGH if up else look.LOW
    turn = 0.0 if up else 180.0
    corners = np.vstack([arc(at, size, turn + a, turn + a)[:1] for a in (0, 120, 240)])
    role = "high" if up else "low"
    return (Polygon((corners,), Fill(tone), Pen(look.PAPER, 0.25), role=role),)


def station(at: XY, radius: float) -> tuple[Record, ...]:
    """Return the dot of a station."""
    return (Circle(at, radius, _INK, Pen(look.PAPER, 0.18), role="station-dot"),)


def stray(at: XY, radius: float) -> tuple[Record, ...]:
    """Return the open square of a station whose level does not belong to the floor's."""
    box = _box(at, 2 * radius, 2 * radius)
    return (Polygon((box,), _WHITE, Pen(look.INK, 0.18), role="station-stray"),)


def hollow(at: XY, radius: float) -> tuple[Record, ...]:
    """Return the ring of a station without a reading."""
    return (Circle(at, radius, _WHITE, Pen(look.INK, 0.18), role="station-unread"),)


def cross(at: XY, radius: float) -> tuple[Record, ...]:
    """Return the cross of a station whose readings are all struck."""
    (x, y), d = at, radius * 1.3
    runs = (
        np.array([[x - d, y - d], [x + d, y + d]]),
        np.array([[x - d, y + d], [x + d, y - d]]),
    )
    return (Path(runs, Pen(look.INK, 0.28), role="station-struck"),)


def doubt(at: XY, radius: float) -> tuple[Record, ...]:
    """Return the ring round a station with a reading that does not fit."""
    return (Circle(at, radius, None, Pen(look.DOUBT, 0.3), role="suspect"),)


def diamond(at: XY, number: str, size: float) -> tuple[Record, ...]:
    """Return a numbered sign of distress."""
    x, y = at
    half = size * 1.05 + 0.35 * size * max(0, len(number) - 1)
    corners = np.array([[x, y - half], [x + half, y], [x, y + half], [x - half, y]])
    text = Text((x, y + 0.345 * size), number, size, look.PAPER, 600, "middle", role="distress")
    return (
        Polygon((corners,), Fill(look.ALARM), Pen(look.PAPER, 0.2), role="distress"),
        text,
    )


def zigzag(run: Array, amplitude: float = 0.45, length: float = 1.5) -> Array:
    """Return a run as a zigzag, as cracks are drawn."""
    out: list[Array] = [run[:1]]
    side = 1.0
    for a, b in pairwise(run):
        far = float(np.hypot(*(b - a)))
        if far == 0.0:
            continue
        across = np.array([-(b - a)[1], (b - a)[0]]) / far * amplitude
        count = max(2, round(far / length))
        for k in range(1, count):
            out.append((a + (b - a) * k / count + side * across)[None, :])
            side = -side
        out.append(b[None, :])
    return np.vstack(out)


def arrow(tail: XY, head: XY, pen: Pen, size: float = 1.6) -> tuple[Record, ...]:
    """Return an arrow: a shaft and a filled head; for falls, flows and movements."""
    dx, dy = head[0] - tail[0], head[1] - tail[1]
    far = hypot(dx, dy)
    if far < 1e-6:
        return ()
    u, v = dx / far, dy / far
    size = min(size, 0.75 * far)
    base = (head[0] - u * size, head[1] - v * size)
    w = 0.38 * size
    tip = np.array([head, (base[0] - v * w, base[1] + u * w), (base[0] + v * w, base[1] - u * w)])
    return (
        Line(tail, base, pen, role="arrow"),
        Polygon((tip,), Fill(pen.colour), role="arrow"),
    )


def dial(at: XY, radius: float, direction: float | None, spread: float) -> tuple[Record, ...]:
    """Return the downhill arrow on a dial with the sector that holds it in 95 of 100 cases."""
    out: list[Record] = [Circle(at, radius, Fill(look.GROUND), Pen(look.FAINT, 0.12), role="dial")]
    if direction is None or spread >= 90:
        out.append(Circle(at, 0.5, Fill(look.SOFT), role="dial"))
        return tuple(out)
    sector = np.vstack([arc(at, radius, direction - spread, direction + spread), [at]])
    out.append(Polygon((sector,), Fill(look.LOW, 0.22), role="dial"))
    t = radians(direction)
    u, v = sin(t), -cos(t)
    tail = (at[0] - 0.6 * radius * u, at[1] - 0.6 * radius * v)
    head = (at[0] + 0.92 * radius * u, at[1] + 0.92 * radius * v)
    return (*out, *arrow(tail, head, Pen(look.INK, 0.45), 0.5 * radius))


def north(at: XY, size: float, direction: float, text: float) -> tuple[Record, ...]:
    """Return the north arrow; ``direction`` in degrees clockwise from up the sheet."""
    tip, left, right = (arc(at, size, direction + a, direction + a)[0] for a in (0.0, 150.0, 210.0))
    notch = arc(at, size * 0.45, direction + 180, direction + 180)[0]
    t = radians(direction)
    far = size + 0.75 * text
    word = (at[0] + far * sin(t), at[1] - far * cos(t) + 0.35 * text)
    return (
        Polygon((np.array([tip, left, notch]),), Fill(look.INK), role="north"),
        Polygon((np.array([tip, left, notch, right]),), None, Pen(look.INK, 0.15), role="north"),
        Text(word, "N", text, look.INK, 600, "middle", role="north"),
    )


def _door(at: XY, s: float, fill: Fill, knob: Fill) -> tuple[Record, ...]:
    leaf = _box(at, 1.15 * s, 1.9 * s)
    return (
        Polygon((leaf,), fill, Pen(look.INK, 0.2), role="mark"),
        Circle((at[0] + 0.3 * s, at[1] + 0.1 * s), 0.16 * s, knob, role="mark"),
    )


def _heater(at: XY, s: float) -> tuple[Record, ...]:
    wave = np.array([[-0.5, 0.15], [-0.25, -0.15], [0.0, 0.15], [0.25, -0.15], [0.5, 0.15]])
    runs = tuple(at + s * (wave + np.array([0.0, dy])) for dy in (-0.25, 0.3))
    return (
        Circle(at, s, _WHITE, Pen(look.INK, 0.22), role="mark"),
        Path(runs, Pen(look.INK, 0.18, cap="round"), role="mark"),
    )


def _drain(at: XY, s: float) -> tuple[Record, ...]:
    x, y = at
    runs = tuple(
        np.array([[x - w * s, y + d * s], [x + w * s, y + d * s]])
        for d, w in ((-0.45, 0.75), (0.0, 0.9), (0.45, 0.75))
    )
    return (
        Circle(at, s, _WHITE, Pen(look.INK, 0.22), role="mark"),
        Path(runs, Pen(look.INK, 0.18), role="mark"),
    )


def _column(at: XY, s: float) -> tuple[Record, ...]:
    return (
        Polygon((_box(at, 1.5 * s, 1.5 * s),), Fill(look.SOFT), Pen(look.INK, 0.2), role="mark"),
    )


def _tree(at: XY, s: float) -> tuple[Record, ...]:
    lobes = np.linspace(0, 2 * pi, 57)[:-1]
    radius = s * (1.15 + 0.16 * np.cos(8 * lobes))
    ring = np.column_stack([at[0] + radius * np.sin(lobes), at[1] - radius * np.cos(lobes)])
    return (
        Polygon((ring,), Fill("#dfe9dc"), Pen("#4f6b52", 0.18), role="mark"),
        Circle(at, 0.22 * s, Fill("#4f6b52"), role="mark"),
    )


def _downspout(at: XY, s: float) -> tuple[Record, ...]:
    return (
        Polygon((_box(at, 1.7 * s, 1.7 * s),), _WHITE, Pen(look.INK, 0.2), role="mark"),
        *arrow((at[0], at[1] - 0.6 * s), (at[0], at[1] + 0.65 * s), Pen(look.INK, 0.2), 0.7 * s),
    )


def _note(at: XY, s: float) -> tuple[Record, ...]:
    leaf = np.array([[-0.7, -0.9], [0.3, -0.9], [0.7, -0.5], [0.7, 0.9], [-0.7, 0.9]])
    x, y = at
    rules = tuple(
        np.array([[x - 0.4 * s, y + d * s], [x + 0.4 * s, y + d * s]]) for d in (-0.2, 0.15, 0.5)
    )
    return (
        Polygon((at + s * leaf,), _WHITE, Pen(look.INK, 0.18), role="mark"),
        Path(rules, Pen(look.SOFT, 0.14), role="mark"),
    )


def _other(at: XY, s: float) -> tuple[Record, ...]:
    return (
        Circle(at, 0.75 * s, _WHITE, Pen(look.SOFT, 0.2), role="mark"),
        Circle(at, 0.3 * s, Fill(look.SOFT), role="mark"),
    )


MARKS: dict[str, tuple[str, Symbol]] = {
    "front-door": ("front door", lambda at, s: _door(at, s, _INK, _WHITE)),
    "door": ("door", lambda at, s: _door(at, s, _WHITE, _INK)),
    "water-heater": ("water heater", _heater),
    "drain": ("drain", _drain),
    "column": ("column", _column),
    "tree": ("tree", _tree),
    "downspout": ("downspout", _downspout),
    "note": ("note", _note),
}
"""Marks that have a symbol of their own, with the words for them in the legend."""


def mark(kind: str, at: XY, size: float) -> tuple[Record, ...]:
    """Return the symbol of a mark; a plain ringed dot for a kind without one."""
    return MARKS[kind][1](at, size) if kind in MARKS else _other(at, size)


def next_place(at: XY, number: str, size: float) -> tuple[Record, ...]:
    """Return the sign for a place where one more reading would help: a numbered cross-hair."""
    x, y = at
    gap, far = 0.62 * size + 0.5, 0.62 * size + 1.5
    runs = tuple(
        np.array([[x + u * gap, y + v * gap], [x + u * far, y + v * far]])
        for u, v in ((1, 0), (-1, 0), (0, 1), (0, -1))
    )
    return (
        Circle(at, gap, Fill(look.PAPER), Pen(look.DOUBT, 0.28), role="next"),
        Path(runs, Pen(look.DOUBT, 0.28), role="next"),
        Text((x, y + 0.345 * size), number, size, look.DOUBT, 600, "middle", role="next"),
    )
