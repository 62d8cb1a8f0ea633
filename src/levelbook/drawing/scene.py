"""What is to be drawn, resolved to meaning before anything has a place on a sheet."""

from dataclasses import dataclass

from levelbook.drawing.fields import Bands, Field, bands, fields, has_low
from levelbook.drawing.source import Kind, Source, Spot, main_group, shapes, spots
from levelbook.drawing.theme import Theme
from levelbook.drawing.wording import Z95, decimals_of
from levelbook.floor.shape import AreaShape


@dataclass(frozen=True)
class Scene:
    """One drawing's meaning: ``main`` is the group that the book's reference belongs to.

    ``unsure`` tells that somewhere the surface is less sure than one step of its bands,
    ``hollow`` that some contour closes on a low.
    """

    source: Source
    kind: Kind
    theme: Theme
    main: str | None
    spots: tuple[Spot, ...]
    shapes: tuple[AreaShape, ...]
    fields: tuple[Field, ...]
    bands: dict[str, Bands]
    decimals: int
    unsure: bool
    hollow: bool


def resolve(source: Source, kind: Kind, theme: Theme) -> Scene:
    """Return what one kind of drawing of a source shows."""
    found = fields(source, kind)
    banded = bands(source, kind, found)
    unsure = kind != "error" and any(Z95 * f.doubt > banded[f.group].step for f in found)
    return Scene(
        source,
        kind,
        theme,
        main_group(source),
        spots(source),
        tuple(shapes(source)),
        found,
        banded,
        decimals_of(source.book),
        unsure,
        kind != "error" and any(has_low(f, banded[f.group]) for f in found),
    )
