"""The look: colours and sizes, kept in one place.

Calm and technical: one blue-black ink, pale floors, one warm and one cool accent for high and
low, red only for signs of distress. Sizes are millimetres at the size the sheet is seen.
"""

from dataclasses import dataclass, replace

INK = "#1d2a35"
SOFT = "#55636f"
FAINT = "#8b98a2"
PAPER = "#ffffff"
GROUND = "#f3f5f6"
HIGH = "#8a4b00"
LOW = "#123f6d"
ALARM = "#b4231d"
DOUBT = "#6f3290"


@dataclass(frozen=True, slots=True)
class Theme:
    """Sizes of type and lines for one way of looking at a drawing.

    ``least`` is the smallest size a level may shrink to where room is short; where
    ``thin_out`` is set and room still lacks, some stations show their dot alone and the
    legend says so, otherwise every level is written.
    """

    text: float = 2.5
    level: float = 2.3
    strong: float = 2.75
    small: float = 1.95
    least: float = 1.75
    dot: float = 0.5
    symbol: float = 1.5
    outline: float = 0.6
    wall: float = 0.3
    contour: float = 0.14
    index: float = 0.32
    hair: float = 0.12
    margin: float = 2.0
    room: float = 7.0
    reach: float = 30.0
    thin_out: bool = False

    def scaled(self, factor: float) -> "Theme":
        """Return the theme with all type larger or smaller by a factor."""
        return replace(
            self,
            text=self.text * factor,
            level=self.level * factor,
            strong=self.strong * factor,
            small=self.small * factor,
            least=self.least * factor,
        )


PRINT = Theme()
"""For paper, from half a page upward."""

SCREEN = Theme(
    text=2.75,
    level=2.65,
    strong=3.05,
    small=2.35,
    least=2.35,
    dot=0.6,
    symbol=1.7,
    outline=0.55,
    margin=1.5,
    room=5.0,
    reach=12.0,
    thin_out=True,
)
"""For a phone held in the hand, drawn at about 95 mm (360 px) wide."""


def theme_for(width_mm: float) -> Theme:
    """Return the theme that suits a sheet by its width."""
    return SCREEN if width_mm < 130 else PRINT
