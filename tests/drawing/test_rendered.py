"""The drawings as readers really draw them: a browser, and the engine that makes the PDF."""

from importlib.resources import files
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import shapely
import typst
from drawing_houses import L_SHAPE, Plot, area, full_house, house
from PIL import Image

from levelbook.drawing import Parts, plan, to_svg
from levelbook.drawing.records import Text, flatten

FONTS = Path(str(files("fontpkg_fira_sans") / "files"))
BOXES = """() => [...document.querySelectorAll('text')].map(t => {
  const m = t.getCTM(), r = t.getBoundingClientRect();
  return {text: t.textContent, width: t.getComputedTextLength(), turned: Math.abs(m.b) > 1e-6,
          box: [r.left, r.top, r.right, r.bottom]};
})"""


def crowded() -> Parts:
    """Return a house of 120 stations."""
    return house([Plot(area("house", L_SHAPE))], [120], north=0.0)


def face(weight: int, name: str) -> str:
    """Return the style rule for one weight of the typeface."""
    url = (FONTS / f"FiraSans-{name}.ttf").as_uri()
    return f"@font-face{{font-family:'Fira Sans';font-weight:{weight};src:url({url})}}"


@pytest.mark.browser
@pytest.mark.parametrize("width", [190.0, 95.25])
@pytest.mark.parametrize("make", [crowded, full_house])
def test_texts_are_as_wide_in_a_browser_as_we_reckon(page, tmp_path, make, width):
    """Chromium's texts are no wider than ours, so what we keep apart stays apart there."""
    drawing = plan(make(), width_mm=width, height_mm=240 if width > 100 else None)
    rules = face(400, "Regular") + face(600, "SemiBold")
    body = to_svg(drawing, interactive=True)
    target = tmp_path / "page.html"
    target.write_text(f"<!doctype html><meta charset=utf-8><style>{rules}</style>{body}", "utf-8")
    page.goto(target.as_uri())
    page.evaluate("document.fonts.ready")
    ours = [s for s in flatten(drawing.items) if isinstance(s, Text)]
    seen = page.evaluate(BOXES)
    assert [s["text"] for s in seen] == [t.text.replace("\u00a0", " ") for t in ours]
    for text, box in zip(ours, seen, strict=True):
        # Kerning, which we leave out, mostly tightens; our pad is many times what it adds.
        assert box["width"] <= 1.01 * text.width + 0.02, text.text
        assert box["width"] >= 0.9 * text.width, text.text
    # Rectangles of a browser reach over the line's whole height; the ink is its middle part.
    upright = [_ink(s["box"]) for s in seen if not s["turned"]]
    for k, box in enumerate(upright):
        assert not any(box.intersects(other) for other in upright[k + 1 :])


def _ink(box: list[float]) -> shapely.Geometry:
    """Return the part of a line's rectangle where figures stand."""
    left, top, right, bottom = box
    tall = bottom - top
    return shapely.box(left, top + 0.3 * tall, right, bottom - 0.27 * tall)


@pytest.mark.parametrize("kind", ["levels", "error", "deflection"])
def test_the_print_engine_draws_it(tmp_path, kind):
    """Typst draws every kind with our typeface alone: dark text, and the colours of the bands."""
    drawing = plan(full_house(), kind=kind, width_mm=180, height_mm=170)
    (tmp_path / "plan.svg").write_text(to_svg(drawing, printable=True), "utf-8")
    (tmp_path / "page.typ").write_text(
        "#set page(width: 180mm, height: 170mm, margin: 0mm)\n#image('plan.svg')".replace("'", '"')
    )
    png = typst.compile(
        tmp_path / "page.typ",
        format="png",
        ppi=72,
        font_paths=[FONTS],
        ignore_system_fonts=True,
        root=tmp_path,
    )
    picture = np.asarray(Image.open(BytesIO(png)).convert("RGB")).astype(int)
    per_mm = 72 / 25.4
    written = 0
    texts = [t for t in flatten(drawing.items) if isinstance(t, Text) and t.role == "legend"]
    for text in texts:
        (left, top), (right, low) = text.corners().min(axis=0), text.corners().max(axis=0)
        patch = picture[
            int(top * per_mm) : int(low * per_mm) + 1, int(left * per_mm) : int(right * per_mm) + 1
        ]
        written += bool((patch.sum(axis=2) < 450).any())
    assert written == len(texts)
