"""SVG and PNG are the plan that was agreed to, at the resolution asked for.

To agree to a change, look at the new drawing and run ``python tests/exchange/golden_pictures.py``.
"""

import io

import numpy as np
import pytest
from golden_pictures import DPI, GOLDEN, kept
from PIL import Image

from levelbook.errors import UsageError
from levelbook.exchange.pictures import HEIGHT_MM, WIDTH_MM, picture, svg
from levelbook.findings.model import Assessment


def test_svg_is_as_it_was_agreed(house: Assessment) -> None:
    """The drawing is the one that was looked at; write it anew only after looking again."""
    assert kept(svg(house)) == (GOLDEN / "house-a.svg").read_text("utf-8")


def test_png_agrees_with_the_golden_picture(house: Assessment) -> None:
    """A coarse print of the picture differs from the kept one by less than a shade."""
    found = np.asarray(Image.open(io.BytesIO(picture(house, dpi=DPI))).convert("L"), float)
    agreed = np.asarray(Image.open(GOLDEN / "house-a.png").convert("L"), float)
    assert found.shape == agreed.shape
    assert np.abs(found - agreed).mean() < 1.0


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
