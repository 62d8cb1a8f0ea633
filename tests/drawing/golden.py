"""The drawings that are kept as files; run as a script to write them anew."""

from collections.abc import Callable
from pathlib import Path

from drawing_houses import RECTANGLE, Plot, area, dish, full_house, house, line_profile

from levelbook.drawing import Parts, plan, profile, text_plan, text_profile, to_svg

FOLDER = Path(__file__).parent / "golden"


def _oblong() -> Parts:
    return house(
        [Plot(area("house", RECTANGLE), dish)], [18], units=("mm", "m"), resolution=1.0, north=0.0
    )


def _profile() -> tuple[object, object]:
    parts = _oblong()
    line = line_profile(Plot(area("house", RECTANGLE), dish), ((1, 15), (47, 15)), 25.4, 21)
    return line, parts.book.units


CASES: dict[str, Callable[[], str]] = {
    "levels.svg": lambda: to_svg(plan(full_house(), width_mm=180, height_mm=190)),
    "error.svg": lambda: to_svg(plan(full_house(), kind="error", width_mm=180, height_mm=190)),
    "deflection.svg": lambda: to_svg(plan(_oblong(), kind="deflection", width_mm=150)),
    "phone.svg": lambda: to_svg(plan(_oblong(), width_mm=95.25), interactive=True),
    "profile.svg": lambda: to_svg(profile(*_profile(), name="Middle")),  # type: ignore[arg-type]
    "plan.txt": lambda: text_plan(full_house(), 60) + "\n",
    "profile.txt": lambda: text_profile(*_profile(), 60) + "\n",  # type: ignore[arg-type]
}


def draw(name: str) -> str:
    """Return one drawing, a line for each element so that a difference can be read."""
    return CASES[name]().replace("><", ">\n<")


if __name__ == "__main__":
    for case in CASES:
        (FOLDER / case).write_text(draw(case), "utf-8")
