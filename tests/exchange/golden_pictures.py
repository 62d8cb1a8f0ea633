"""The pictures that are kept as files; run as a script to write them anew."""

from pathlib import Path

from levelbook.book import read_book
from levelbook.exchange.pictures import picture, svg
from levelbook.findings import assess

GOLDEN, DPI = Path(__file__).parent / "golden", 60
HOUSE = Path(__file__).parent.parent / "data" / "house-a.json"


def kept(data: bytes) -> str:
    """Return a drawing with a line for each element, so that a difference can be read."""
    return data.decode("utf-8").replace("><", ">\n<")


if __name__ == "__main__":
    assessment = assess(read_book(HOUSE.read_bytes()))
    (GOLDEN / "house-a.svg").write_text(kept(svg(assessment)), "utf-8")
    (GOLDEN / "house-a.png").write_bytes(picture(assessment, dpi=DPI))
