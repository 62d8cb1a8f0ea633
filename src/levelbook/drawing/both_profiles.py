"""One line over the floor on two visits, each with its 95 % band."""

from collections.abc import Iterator
from math import ceil, floor

import numpy as np

from levelbook.book.model import Units
from levelbook.book.units import convert
from levelbook.drawing import metrics
from levelbook.drawing import theme as look
from levelbook.drawing.records import (
    Array,
    Drawing,
    Fill,
    Line,
    Path,
    Pen,
    Polygon,
    Record,
    Text,
)
from levelbook.drawing.theme import Theme, theme_for
from levelbook.drawing.wording import Z95, decimals_for, nice_step, number
from levelbook.floor.model import Profile

_FIRST, _SECOND = Pen(look.SOFT, 0.4, (1.8, 1.0)), Pen(look.LOW, 0.55)
_BANDS = (Fill("#aab4bc", 0.35), Fill("#8fb3d6", 0.45))
_LEAST_SPAN = {"in": 0.5, "mm": 12.0}
_RIGHT, _FOOT = 4.0, 5.0


def both_profiles(
    lines: tuple[Profile, Profile],
    days: tuple[str, str],
    units: Units,
    *,
    name: str = "",
    width_mm: float = 180.0,
    height_mm: float = 58.0,
) -> Drawing:
    """Draw a line on the earlier visit (dashed) and on the later one (solid).

    Both are in one unit and on one zero; the bands are 95 % intervals of the levels.
    """
    theme = theme_for(width_mm)
    plot = _Plot(lines, units, width_mm, height_mm, theme)
    items: list[Record] = [*plot.scales()]
    for line, fill in zip(lines, _BANDS, strict=True):
        items.append(plot.band(line, fill))
    for line, pen in zip(lines, (_FIRST, _SECOND), strict=True):
        items.append(Path((plot.points(line.distance, line.level),), pen, role="floor"))
    items += plot.head(name, days)
    told = (
        f"The floor along a line of {lines[0].length:.1f} {units.plan} on {days[0]} and {days[1]}."
    )
    return Drawing(width_mm, height_mm, tuple(items), metrics.clean(name), metrics.clean(told))


class _Plot:
    """The room of the plot, and what it shows."""

    def __init__(
        self,
        lines: tuple[Profile, Profile],
        units: Units,
        width: float,
        height: float,
        theme: Theme,
    ) -> None:
        self.units, self.theme, self.width = units, theme, width
        low = min(float((p.level - Z95 * p.level_sd).min()) for p in lines)
        high = max(float((p.level + Z95 * p.level_sd).max()) for p in lines)
        lack = max(0.0, _LEAST_SPAN[units.level] - (high - low)) / 2 + 0.06 * (high - low)
        self.low, self.high = low - lack, high + lack
        self.length = float(lines[0].distance[-1])
        self.left = theme.margin + metrics.width("−00.0 mm", theme.small) + 2.0
        self.top = theme.margin + 2.9 * theme.text
        self.right, self.bottom = width - theme.margin - _RIGHT, height - theme.margin - _FOOT

    def x(self, distance: float) -> float:
        """Return where a distance lies on the sheet."""
        return self.left + (self.right - self.left) * distance / self.length

    def y(self, level: float) -> float:
        """Return where a level lies on the sheet."""
        share = (level - self.low) / (self.high - self.low)
        return self.bottom - (self.bottom - self.top) * share

    def points(self, distance: Array, level: Array) -> Array:
        """Return distances and levels (n,) as points (n, 2) on the sheet."""
        return np.array([[self.x(d), self.y(v)] for d, v in zip(distance, level, strict=True)])

    def band(self, line: Profile, fill: Fill) -> Polygon:
        """Return the 95 % band of a profile."""
        upper = self.points(line.distance, line.level + Z95 * line.level_sd)
        lower = self.points(line.distance, line.level - Z95 * line.level_sd)
        return Polygon((np.vstack([upper, lower[::-1]]),), fill, role="interval")

    def scales(self) -> Iterator[Record]:
        """Yield grid lines and figures of both scales."""
        hair, small = Pen("#c3ccd3", 0.12), self.theme.small
        step = nice_step((self.high - self.low) / max(2.0, (self.bottom - self.top) / 7.0))
        top = floor(self.high / step + 1e-9)
        for k in range(ceil(self.low / step - 1e-9), top + 1):
            y = self.y(k * step)
            yield Line((self.left, y), (self.right, y), hair, "grid")
            said = number(k * step, decimals_for(step)) + (
                f" {self.units.level}" if k == top else ""
            )
            yield Text((self.left - 1.2, y + 0.345 * small), said, small, look.SOFT, anchor="end")
        step = nice_step(self.length / max(2.0, (self.right - self.left) / 17.0))
        last = floor(self.length / step + 1e-9)
        for k in range(last + 1):
            x = self.x(k * step)
            yield Line((x, self.bottom), (x, self.bottom + 1.0), Pen(look.SOFT, 0.15), "grid")
            said = f"{k * step:g}" + (f" {self.units.plan}" if k == last else "")
            at = (x, self.bottom + 1.6 + 0.8 * small)
            yield Text(at, said, small, look.SOFT, anchor="middle")
        yield Line((self.left, self.bottom), (self.right, self.bottom), Pen(look.SOFT, 0.2), "grid")

    def head(self, name: str, days: tuple[str, str]) -> Iterator[Record]:
        """Yield the name, a sample of each line with its day, and how far heights are stretched."""
        theme, x = self.theme, self.theme.margin
        at = theme.margin + 0.8 * theme.text
        cut = metrics.shorten(metrics.clean(name), theme.text, 0.4 * self.width, 600)
        yield Text((x, at), cut, theme.text, look.INK, 600, role="heading")
        x += metrics.width(cut, theme.text, 600) + (5.0 if cut else 0.0)
        for day, pen in zip(days, (_FIRST, _SECOND), strict=True):
            yield Line((x, at - 0.8), (x + 7.0, at - 0.8), pen, role="legend")
            said = metrics.clean(day)
            yield Text((x + 8.5, at), said, theme.text, look.INK, role="legend")
            x += 8.5 + metrics.width(said, theme.text) + 6.0
        across = (self.right - self.left) / convert(self.length, self.units.plan, self.units.level)
        times = (self.bottom - self.top) / (self.high - self.low) / across
        said = (
            f"shaded: 95\u00a0% interval; heights drawn about {round(times, -1):.0f} times larger"
        )
        below = at + 1.35 * theme.small
        yield Text((self.theme.margin, below), said, theme.small, look.SOFT, role="note")
