"""The drawings of a report: which there are, how large, and how each is told in words."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from levelbook.drawing import plan, profile, to_svg
from levelbook.drawing.garage import garage_plan
from levelbook.drawing.records import Drawing
from levelbook.drawing.source import Kind as PlanKind
from levelbook.findings.model import NoGarage
from levelbook.floor.shape import AreaShape
from levelbook.report.blocks import Picture
from levelbook.report.room import SHEETS, first_page
from levelbook.report.sections.shape import drawn_profiles
from levelbook.report.sections.source import Source

Kind = Literal["plan", "deflection", "error", "profile", "garage"]


@dataclass(frozen=True)
class Drawn:
    """Pictures in the order they are shown, each with its kind, and their SVG by name."""

    cover: Picture
    pictures: tuple[tuple[Kind, Picture], ...]
    svg: Mapping[str, str]

    def of(self, *kinds: Kind) -> tuple[Picture, ...]:
        """Return the pictures of some kinds, in order."""
        return tuple(picture for kind, picture in self.pictures if kind in kinds)


PHONE = 95.0
DESK = 200.0
"""Widths in millimetres at which the plans of the page are drawn."""


def draw(source: Source, *, screen: bool) -> Drawn:
    """Return the drawings of a report, for paper or for the page on a screen."""
    return _Hand(source, screen=screen).drawn()


class _Hand:
    """Draws what a report shows; on a screen each plan comes for a desk and for a phone."""

    def __init__(self, source: Source, *, screen: bool) -> None:
        self.source, self.screen = source, screen
        self.sheet = SHEETS[source.book.units.plan]
        self.svg: dict[str, str] = {}
        self.labels = source.labels

    def drawn(self) -> Drawn:
        """Return all drawings in the order in which they are shown."""
        shaped = any(isinstance(a, AreaShape) for a in self.source.assessment.floor.areas.values())
        first = self._plan("cover", "levels", self.labels("cover.caption"), "page")
        pictures: list[tuple[Kind, Picture]] = []
        if not self.screen:
            words = self.labels("plan.caption")
            pictures.append(("plan", self._plan("plan", "levels", words, "page")))
        if shaped:
            words = self.labels("plan.deflection_caption")
            pictures.append(("deflection", self._plan("bend", "deflection", words, "wide")))
            pictures += [("profile", picture) for picture in self._profiles()]
            words = self.labels("plan.error_caption")
            pictures.append(("error", self._plan("error", "error", words, "wide")))
        pictures += [("garage", picture) for picture in self._garages()]
        return Drawn(first, tuple(pictures), self.svg)

    def _plan(
        self, name: str, kind: PlanKind, caption: str, size: Literal["page", "wide"]
    ) -> Picture:
        assessment = self.source.assessment
        if self.screen:
            return self._both(
                Picture(name, "", caption, size),
                partial(plan, assessment, kind=kind),
                live=name == "cover",
            )
        height = self.sheet.page if name == "plan" else self.sheet.wide
        if name == "cover":
            _, height = first_page(assessment.words, self.labels("cover.foot"), self.sheet)
        drawing = plan(
            assessment,
            kind=kind,
            width_mm=self.sheet.width,
            height_mm=height,
            brief=name == "cover",
        )
        self.svg[name] = to_svg(drawing, printable=True)
        return Picture(name, drawing.description, caption, size)

    def _profiles(self) -> Iterator[Picture]:
        units = self.source.book.units
        for n, (name, line) in enumerate(drawn_profiles(self.source), 1):
            make = partial(profile, line, units, name=name)
            key = f"profile-{n}"
            if self.screen:
                yield self._both(Picture(key, "", "", "strip"), make)
                continue
            drawing = make(width_mm=self.sheet.width, height_mm=self.sheet.strip)
            self.svg[key] = to_svg(drawing, printable=True)
            yield Picture(key, drawing.description, "", "strip")

    def _garages(self) -> Iterator[Picture]:
        """Draw each garage that was studied; numbered as the book has them."""
        assessment = self.source.assessment
        for n, found in enumerate(assessment.water.garages.values(), 1):
            if isinstance(found, NoGarage):
                continue
            make = partial(garage_plan, assessment.book, found)
            picture = Picture(f"garage-{n}", "", self.labels("garage.caption"), "wide")
            if self.screen:
                yield self._both(picture, make)
                continue
            drawing = make(width_mm=self.sheet.width, height_mm=0.8 * self.sheet.wide)
            self.svg[picture.name] = to_svg(drawing, printable=True)
            yield replace(picture, alt=drawing.description)

    def _both(
        self, picture: Picture, make: Callable[..., Drawing], *, live: bool = False
    ) -> Picture:
        """Draw for a desk and for a phone; the page's style shows one of the two.

        ``make`` takes ``width_mm``.
        """
        drawings = {"desk": make(width_mm=DESK), "phone": make(width_mm=PHONE)}
        self.svg[picture.name] = "".join(
            f'<div class="{cls}">{_framed(drawing, live)}</div>'
            for cls, drawing in drawings.items()
        )
        return replace(picture, alt=drawings["desk"].description)


def _framed(drawing: Drawing, live: bool) -> str:
    """Return the SVG; one whose stations can be chosen is a group, not one picture."""
    svg = to_svg(drawing, interactive=live, fitted=True)
    return svg.replace(' role="img"', ' role="group"', 1) if live else svg
