"""Make the pictures of the documentation from the demo house.

``docs/pictures/plan.svg`` is the plan, ``docs/pictures/report.png`` the report's first page,
``docs/pictures/terminal.txt`` what ``levelbook assess`` draws on a terminal.
"""

import sys
from pathlib import Path

import pypdfium2

from levelbook.book import read_book
from levelbook.demo import house
from levelbook.drawing import plan, text_plan, to_svg
from levelbook.findings import assess
from levelbook.report import build

PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
PLAN_MM = (180.0, 200.0)
PAGE_SCALE = 1.25
COLOURS = 128


def first_page(pdf: bytes, target: Path) -> None:
    """Draw a PDF's first page into a small picture."""
    document = pypdfium2.PdfDocument(pdf)
    image = document[0].render(scale=PAGE_SCALE).to_pil()
    image.quantize(COLOURS).save(target, optimize=True)
    document.close()


def main() -> None:
    """Assess the demo house and make all pictures."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    result = assess(read_book(house()))
    drawing = plan(result, width_mm=PLAN_MM[0], height_mm=PLAN_MM[1])
    (PICTURES / "plan.svg").write_text(to_svg(drawing), "utf-8")
    (PICTURES / "terminal.txt").write_text(text_plan(result, 60) + "\n", "utf-8")
    first_page(build(result, formats=("pdf",)).parts[".pdf"], PICTURES / "report.png")
    for path in sorted(PICTURES.iterdir()):
        sys.stdout.write(f"{path.relative_to(PICTURES.parent.parent)}  {path.stat().st_size}\n")


if __name__ == "__main__":
    main()
