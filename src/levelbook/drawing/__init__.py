"""The plan and its companions, resolved to millimetres and drawn as SVG.

>>> drawing = plan(assessment, width_mm=190, height_mm=240)      # doctest: +SKIP
>>> svg = to_svg(drawing, interactive=True)                      # doctest: +SKIP
"""

from levelbook.drawing.plan import plan
from levelbook.drawing.profiles import profile
from levelbook.drawing.records import Drawing
from levelbook.drawing.source import Kind, Parts, Source
from levelbook.drawing.svg import to_svg
from levelbook.drawing.terminal import text_plan, text_profile
from levelbook.drawing.theme import PRINT, SCREEN, Theme, theme_for

__all__ = [
    "PRINT",
    "SCREEN",
    "Drawing",
    "Kind",
    "Parts",
    "Source",
    "Theme",
    "plan",
    "profile",
    "text_plan",
    "text_profile",
    "theme_for",
    "to_svg",
]
