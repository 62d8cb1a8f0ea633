"""Plans as pictures: SVG as it is drawn, PNG at a chosen resolution."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import typst

from levelbook.drawing import Drawing, Kind, plan, to_svg
from levelbook.errors import UsageError
from levelbook.findings.model import Assessment
from levelbook.report.glyphs import font_folder
from levelbook.report.pdf import TypesettingError

WIDTH_MM, HEIGHT_MM = 190.0, 190.0
COARSEST, FINEST = 36, 600


def svg(assessment: Assessment, kind: Kind = "levels") -> bytes:
    """Return one plan as SVG; texts keep their width where another typeface stands in."""
    return to_svg(_drawn(assessment, kind), fitted=True).encode("utf-8")


def picture(assessment: Assessment, kind: Kind = "levels", dpi: int = 200) -> bytes:
    """Return one plan as PNG with ``dpi`` dots to the inch.

    Raises
    ------
    UsageError
        If the resolution is beyond 36 to 600.
    """
    if not COARSEST <= dpi <= FINEST:
        remedy = f"choose {COARSEST} to {FINEST}"
        raise UsageError("resolution", f"{dpi} dots to the inch cannot be drawn", remedy)
    drawing = to_svg(_drawn(assessment, kind), printable=True)
    return _rendered(drawing.encode("utf-8"), dpi)


def _drawn(assessment: Assessment, kind: Kind) -> Drawing:
    return plan(assessment, kind=kind, width_mm=WIDTH_MM, height_mm=HEIGHT_MM)


@cache
def _painter() -> typst.Compiler:
    return typst.Compiler(font_paths=[str(font_folder())], ignore_system_fonts=True)


def _rendered(drawing: bytes, dpi: int) -> bytes:
    """Return an SVG of our own as PNG."""
    with TemporaryDirectory(prefix="levelbook-") as name:
        folder = Path(name).resolve()
        (folder / "plan.svg").write_bytes(drawing)
        (folder / "page.typ").write_text(_PAGE, "ascii")
        page = str(folder / "page.typ")
        done = _painter().compile(page, root=str(folder), format="png", ppi=float(dpi))
    if not isinstance(done, bytes):
        raise TypesettingError("the typesetter returned no picture")
    return done


_PAGE = f"""#set page(width: {WIDTH_MM}mm, height: {HEIGHT_MM}mm, margin: 0pt)
#image("plan.svg", width: 100%, height: 100%)
"""
