"""Closed straight lines of an SVG drawing: rectangles, polygons, and paths of straight pieces.

SVG counts y downwards; here it is turned up. Transforms are followed. Curves are left and told,
since a floor's corners are asked and not the points of a curve.
"""

import math
import re
from collections.abc import Iterator
from xml.etree.ElementTree import Element

from levelbook.exchange.outlines import Drawn, Ring
from levelbook.exchange.questions import Interview

Matrix = tuple[float, float, float, float, float, float]
SAME: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
DEEPEST = 50
MOST_LETTERS = 100_000
"""Length of a line's points as text; an outline of 200 corners takes some 5,000."""
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_PIECE = re.compile(r"([A-Za-z])([^A-Za-z]*(?:[eE][-+]?\d+[^A-Za-z]*)*)")
_TRANSFORM = re.compile(r"(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)")
_SKIPPED = frozenset({"defs", "symbol", "clipPath", "mask", "pattern", "marker", "metadata"})


def svg_rings(element: Element, talk: Interview) -> Iterator[Drawn]:
    """Yield the closed lines below an element."""
    yield from _below(element, SAME, talk, 0)


def _below(element: Element, above: Matrix, talk: Interview, depth: int) -> Iterator[Drawn]:
    kind = str(element.tag).rpartition("}")[2]
    if kind in _SKIPPED or depth > DEEPEST:
        return
    matrix = _times(above, _matrix(element.get("transform", "")))
    name = element.get("id")
    for ring, why in _rings(kind, element):
        if why:
            talk.leave(name or kind, kind, why)
        else:
            yield Drawn(name or kind, [_moved(matrix, point) for point in ring], name)
    for child in element:
        yield from _below(child, matrix, talk, depth + 1)


def _rings(kind: str, element: Element) -> Iterator[tuple[Ring, str | None]]:
    """Yield the rings of one element, or why it has none."""
    if kind == "rect":
        x, y, wide, tall = (_length(element.get(k, "0")) for k in ("x", "y", "width", "height"))
        yield [(x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall)], None
    elif len(element.get("points", "")) + len(element.get("d", "")) > MOST_LETTERS:
        yield [], "it has very many points"
    elif kind in ("polygon", "polyline"):
        ring = _pairs(element.get("points", ""))
        if kind == "polyline" and (len(ring) < 4 or ring[0] != ring[-1]):
            yield [], "the line is not closed"
        else:
            yield ring, None
    elif kind == "path":
        yield from _path(element.get("d", ""))
    elif kind in ("circle", "ellipse", "use", "image"):
        yield [], "only closed straight lines become floors"


def _length(text: str) -> float:
    match = _NUMBER.match(text.strip())
    return float(match[0]) if match else 0.0


def _pairs(text: str) -> Ring:
    numbers = [float(n) for n in _NUMBER.findall(text)]
    return list(zip(numbers[::2], numbers[1::2], strict=False))


def _path(text: str) -> Iterator[tuple[Ring, str | None]]:
    """Yield the closed sub-paths of straight pieces; SVG 1.1, 8.3.2 to 8.3.4."""
    ring: Ring = []
    for command, rest in _PIECE.findall(text):
        if command.upper() not in "MLHVZ":
            yield [], "it has curves"
            return
        if command.upper() == "Z":
            yield ring, None
            ring = ring[:1].copy()
            continue
        if command.upper() == "M" and len(ring) > 1:
            yield (ring, None) if ring[0] == ring[-1] else ([], "a line in it is not closed")
        ring = _drawn_on(ring, command, [float(n) for n in _NUMBER.findall(rest)])
    if len(ring) > 1:
        yield (ring, None) if ring[0] == ring[-1] else ([], "a line in it is not closed")


def _drawn_on(ring: Ring, command: str, numbers: list[float]) -> Ring:
    """Return the ring itself with the points of one command added; ``M`` begins a new one."""
    x, y = ring[-1] if ring else (0.0, 0.0)
    new = [] if command in "Mm" else ring
    if command in "Hh":
        steps = [(n, 0.0) if command == "h" else (n - x, 0.0) for n in numbers[-1:]]
    elif command in "Vv":
        steps = [(0.0, n) if command == "v" else (0.0, n - y) for n in numbers[-1:]]
    else:
        steps = list(zip(numbers[::2], numbers[1::2], strict=False))
    for dx, dy in steps:
        x, y = (dx, dy) if command in "ML" else (x + dx, y + dy)
        new.append((x, y))
    return new


def _matrix(text: str) -> Matrix:
    """Return the matrix of a transform; SVG 1.1, 7.6."""
    found = SAME
    for kind, rest in _TRANSFORM.findall(text):
        n = [float(v) for v in _NUMBER.findall(rest)]
        found = _times(found, _single(kind, n))
    return found


def _single(kind: str, n: list[float]) -> Matrix:
    """Return the matrix of one step of a transform; the identity where it is malformed."""
    if kind == "matrix":
        return (n[0], n[1], n[2], n[3], n[4], n[5]) if len(n) == 6 else SAME
    if not n:
        return SAME
    tangent = math.tan(math.radians(n[0]))
    made: dict[str, Matrix] = {
        "translate": _shift(n[0], n[1] if len(n) > 1 else 0.0),
        "scale": (n[0], 0.0, 0.0, n[1] if len(n) > 1 else n[0], 0.0, 0.0),
        "rotate": _turn(n),
        "skewX": (1.0, 0.0, tangent, 1.0, 0.0, 0.0),
        "skewY": (1.0, tangent, 0.0, 1.0, 0.0, 0.0),
    }
    return made[kind]


def _shift(x: float, y: float) -> Matrix:
    return 1.0, 0.0, 0.0, 1.0, x, y


def _turn(n: list[float]) -> Matrix:
    """Return a turn by degrees, about a point if one is given."""
    c, s = math.cos(math.radians(n[0])), math.sin(math.radians(n[0]))
    turn: Matrix = (c, s, -s, c, 0.0, 0.0)
    if len(n) < 3:
        return turn
    return _times(_times(_shift(n[1], n[2]), turn), _shift(-n[1], -n[2]))


def _times(a: Matrix, b: Matrix) -> Matrix:
    return (
        a[0] * b[0] + a[2] * b[1],
        a[1] * b[0] + a[3] * b[1],
        a[0] * b[2] + a[2] * b[3],
        a[1] * b[2] + a[3] * b[3],
        a[0] * b[4] + a[2] * b[5] + a[4],
        a[1] * b[4] + a[3] * b[5] + a[5],
    )


def _moved(m: Matrix, point: tuple[float, float]) -> tuple[float, float]:
    """Return a point moved by a matrix, y turned up."""
    x, y = point
    return m[0] * x + m[2] * y + m[4], -(m[1] * x + m[3] * y + m[5])
