"""The pictures that are kept as files; run as a script to write them anew."""

import io
from pathlib import Path

import numpy as np
from PIL import Image

from levelbook.book import read_book
from levelbook.exchange.pictures import picture
from levelbook.findings import assess

GOLDEN, DPI = Path(__file__).parent / "golden", 60
HOUSE = Path(__file__).parent.parent / "data" / "house-a.json"


def grey(picture_: bytes) -> np.ndarray:
    """Return a picture's shades, 0 black to 255 white."""
    return np.asarray(Image.open(io.BytesIO(picture_)).convert("L"), float)


if __name__ == "__main__":
    assessment = assess(read_book(HOUSE.read_bytes()))
    (GOLDEN / "house-a.png").write_bytes(picture(assessment, dpi=DPI))
