"""A drawing as SVG: the only place that knows the format.

Written for every reader alike, browsers and print: no style sheets, no clipping, no
baseline tricks. Runs of shapes drawn alike share one group, which keeps files small.
Text is escaped and stays text whatever it says.
"""

from html import escape

import numpy as np

from levelbook.drawing.backend import draw
from levelbook.drawing.metrics import FAMILY, clean, missing
from levelbook.drawing.records import (
    Array,
    Circle,
    Drawing,
    Fill,
    Group,
    Line,
    Path,
    Pen,
    Polygon,
    Shape,
    Text,
)

_TAP = 2.6
"""Radius in millimetres within which a tap means a station."""


def to_svg(
    drawing: Drawing,
    *,
    interactive: bool = False,
    printable: bool = False,
    fitted: bool = False,
    title: str | None = None,
    desc: str | None = None,
) -> str:
    """Return a drawing as one SVG document, in millimetres.

    Parameters
    ----------
    drawing
        What to write.
    interactive
        Give every station a group with its id, its values and a place in the tab order, so
        that a page can answer a tap.
    printable
        Put a question mark where the typeface lacks a character, for print that refuses
        to go on without one.
    fitted
        Hold every text to the width it was laid out with, where another typeface may have to
        stand in, as on a page without fonts of its own.
    title, desc
        Words for people who do not see the drawing; those of the drawing by default.
    """
    writer = _Writer(interactive=interactive, printable=printable, fitted=fitted)
    draw(drawing.items, writer)
    writer.flush()
    name = _words(title if title is not None else drawing.title)
    about = _words(desc if desc is not None else drawing.description)
    w, h = _n(drawing.width), _n(drawing.height)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}" role="img" font-family="\'{FAMILY}\', sans-serif">'
        f"<title>{name}</title><desc>{about}</desc>"
    )
    return head + "".join(writer.parts) + "</svg>"


def _n(value: float) -> str:
    """Return a number with at most two decimals and no more signs than needed."""
    out = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if out == "-0" else out


def _words(text: str) -> str:
    return escape(clean(text), quote=False)


def _value(text: str) -> str:
    return escape(clean(text), quote=True)


def _steps(points: Array, closed: bool) -> str:
    """Return path data of one run: steps between whole hundredths, so no error adds up."""
    whole = np.rint(points * 100).astype(np.int64)
    step = np.diff(whole, axis=0)
    step = step[step.any(axis=1)]
    first = f"M{whole[0, 0] / 100:g} {whole[0, 1] / 100:g}"
    rest = " ".join([f"{v / 100:g}" for v in step.ravel().tolist()])
    joined = "l" + rest.replace(" -", "-") if rest else ""
    return first + joined + ("z" if closed else "")


def _pen(pen: Pen | None) -> str:
    if pen is None:
        return ""
    out = f' stroke="{pen.colour}" stroke-width="{_n(pen.width)}"'
    if pen.dash:
        out += f' stroke-dasharray="{" ".join(map(_n, pen.dash))}"'
    if pen.cap != "butt":
        out += ' stroke-linecap="round" stroke-linejoin="round"'
    if pen.opacity < 1:
        out += f' stroke-opacity="{_n(pen.opacity)}"'
    return out


def _fill(fill: Fill | None) -> str:
    if fill is None:
        return ' fill="none"'
    opacity = f' fill-opacity="{_n(fill.opacity)}"' if fill.opacity < 1 else ""
    return f' fill="{fill.colour}"{opacity}'


def _style(shape: Shape) -> str:
    """Return the attributes that neighbours drawn alike can share."""
    role = f' class="{_value(shape.role)}"' if shape.role else ""
    match shape:
        case Line() | Path():
            return role + ' fill="none"' + _pen(shape.pen)
        case Polygon() | Circle():
            return role + _fill(shape.fill) + _pen(shape.pen)
        case Text():
            weight = f' font-weight="{shape.weight}"' if shape.weight != 400 else ""
            anchor = f' text-anchor="{shape.anchor}"' if shape.anchor != "start" else ""
            size = f' font-size="{_n(shape.size)}"'
            return f'{role}{size}{weight}{anchor} fill="{shape.colour}"'


class _Writer:
    """The SVG backend: shapes wait until one is drawn differently."""

    def __init__(self, *, interactive: bool, printable: bool, fitted: bool) -> None:
        self.parts: list[str] = []
        self._interactive, self._printable = interactive, printable
        self._fitted = fitted
        self._waiting: list[Shape] = []
        self._shared = ""

    def shape(self, shape: Shape) -> None:
        """Take a shape in."""
        style = _style(shape)
        if style != self._shared:
            self.flush()
            self._shared = style
        self._waiting.append(shape)

    def flush(self) -> None:
        """Write what waits."""
        if len(self._waiting) == 1:
            self.parts.append(self._element(self._waiting[0], self._shared))
        elif self._waiting:
            self.parts.append(f"<g{self._shared}>")
            self.parts.extend(self._element(shape, "") for shape in self._waiting)
            self.parts.append("</g>")
        self._waiting, self._shared = [], ""

    def _skipped(self, group: Group) -> bool:
        return group.role == "station" and not self._interactive

    def enter(self, group: Group) -> None:
        """Open a group that can be addressed."""
        if self._skipped(group):
            return
        self.flush()
        out = f'<g class="{_value(group.role)}"'
        if group.id is not None:
            out += f' data-id="{_value(group.id)}"'
        if self._interactive:
            out += "".join(f' data-{k}="{_value(v)}"' for k, v in group.data.items())
            if group.role == "station" and group.title:
                out += f' tabindex="0" role="button" aria-label="{_value(group.title)}"'
        self.parts.append(out + ">")
        if self._interactive and group.title:
            self.parts.append(f"<title>{_words(group.title)}</title>")
        if self._interactive and group.at is not None:
            x, y = map(_n, group.at)
            self.parts.append(
                f'<circle class="hit" cx="{x}" cy="{y}" r="{_TAP}" fill-opacity="0"/>'
            )

    def leave(self, group: Group) -> None:
        """Close a group."""
        if not self._skipped(group):
            self.flush()
            self.parts.append("</g>")

    def _element(self, shape: Shape, style: str) -> str:
        """Return one element, with its own style or, left empty, that of its group."""
        match shape:
            case Line():
                (x1, y1), (x2, y2) = shape.a, shape.b
                place = f'x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"'
                return f"<line {place}{style}/>"
            case Path():
                data = "".join(_steps(run, shape.closed) for run in shape.runs)
                return f'<path d="{data}"{style}/>'
            case Polygon():
                data = "".join(_steps(ring, True) for ring in shape.rings)
                rule = ' fill-rule="evenodd"' if len(shape.rings) > 1 else ""
                return f'<path d="{data}"{rule}{style}/>'
            case Circle():
                x, y = shape.at
                return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(shape.radius)}"{style}/>'
            case Text():
                return self._text(shape, style)

    def _text(self, text: Text, style: str) -> str:
        x, y = _n(text.at[0]), _n(text.at[1])
        turn = f' transform="rotate({_n(text.turn)} {x} {y})"' if text.turn else ""
        said = clean(text.text)
        if self._printable:
            lacking = missing(said)
            said = "".join("?" if c in lacking else c for c in said)
        if self._fitted and len(said) > 1:
            turn += f' textLength="{_n(text.width)}" lengthAdjust="spacingAndGlyphs"'
        out = f'<text x="{x}" y="{y}"{turn}{style}>{escape(said, quote=False)}</text>'
        if self._interactive and text.full:
            return f"<g><title>{_words(text.full)}</title>{out}</g>"
        return out
