"""SVG and PNG are the plan that was agreed to, at the resolution asked for.

To agree to a change, look at the new drawing and run ``python tests/exchange/golden_pictures.py``.
"""

import io
from pathlib import Path

import numpy as np
import pytest
import typst
from golden_pictures import DPI, GOLDEN, grey
from PIL import Image

from levelbook.errors import UsageError
from levelbook.exchange.pictures import HEIGHT_MM, WIDTH_MM, picture, svg
from levelbook.findings.model import Assessment
from levelbook.report.glyphs import font_folder


def test_png_agrees_with_the_golden_picture(house: Assessment) -> None:
    """A coarse print differs from the kept one by less than two shades in 255 on the mean."""
    found, agreed = grey(picture(house, dpi=DPI)), grey((GOLDEN / "house-a.png").read_bytes())
    assert found.shape == agreed.shape
    assert np.abs(found - agreed).mean() < 2.0


def test_svg_agrees_with_the_golden_picture(house: Assessment, tmp_path: Path) -> None:
    """Printed by the typesetter, the SVG is the same picture."""
    (tmp_path / "plan.svg").write_bytes(svg(house))
    page = f"#set page(width: {WIDTH_MM}mm, height: {HEIGHT_MM}mm, margin: 0pt)\n"
    (tmp_path / "page.typ").write_text(page + '#image("plan.svg", width: 100%)')
    fonts = {"font_paths": [str(font_folder())], "ignore_system_fonts": True}
    png = typst.compile(tmp_path / "page.typ", root=tmp_path, format="png", ppi=DPI, **fonts)
    found, agreed = grey(png), grey((GOLDEN / "house-a.png").read_bytes())
    assert found.shape == agreed.shape
    assert np.abs(found - agreed).mean() < 2.0


def test_another_house_is_another_picture(demo: Assessment) -> None:
    """The comparison can fail: the demo house is not the golden one."""
    found, agreed = grey(picture(demo, dpi=DPI)), grey((GOLDEN / "house-a.png").read_bytes())
    assert np.abs(found - agreed).mean() > 4.0


@pytest.mark.parametrize("dpi", [36, 150])
def test_resolution_is_as_asked(house: Assessment, dpi: int) -> None:
    """So many dots to the inch: so many across 190 mm."""
    size = Image.open(io.BytesIO(picture(house, dpi=dpi))).size
    assert size == pytest.approx((WIDTH_MM / 25.4 * dpi, HEIGHT_MM / 25.4 * dpi), abs=1)


def test_png_shows_what_the_svg_says(house: Assessment) -> None:
    """Where the drawing has the outline of the house, the picture is dark."""
    picture_ = np.asarray(Image.open(io.BytesIO(picture(house, dpi=100))).convert("L"))
    assert 0.01 < (picture_ < 100).mean() < 0.3


@pytest.mark.parametrize("dpi", [0, 35, 601, 10**6])
def test_absurd_resolutions_are_refused(house: Assessment, dpi: int) -> None:
    """No picture of gigabytes, and none of nothing."""
    with pytest.raises(UsageError, match="36 to 600"):
        picture(house, dpi=dpi)
