"""The same job done plainly with scikit-learn and matplotlib: a book in, a PDF out.

This is what one would write in an afternoon with the usual tools, and without waste: one
least-squares adjustment, one Gaussian process with the same kind of surface (linear trend,
Matérn 5/2, noise), one prediction on a grid, and the report's pages drawn into one PDF.

    python bench/reference_script.py BOOK OUT.pdf
"""

import json
import sys
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import matplotlib

matplotlib.use("Agg")

import numpy as np
from matplotlib import pyplot as plt
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.path import Path as Outline
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

GRID = 120
ROWS = 42
LETTER = (8.5, 11.0)


@dataclass
class Surface:
    """Places, levels, and the fitted surface on a grid of one area."""

    name: str
    outline: np.ndarray
    ids: list[str]
    xy: np.ndarray
    level: np.ndarray
    x: np.ndarray
    y: np.ndarray
    mean: np.ndarray
    sd: np.ndarray
    bent: np.ndarray


def number(text: object) -> float:
    """Return a written reading as a number."""
    sign = -1.0 if str(text).startswith("-") else 1.0
    return sign * float(sum(Fraction(part) for part in str(text).lstrip("+-").split()))


def adjust(book: dict[str, Any]) -> dict[str, float]:
    """Return levels by one least-squares solution of all readings (minimum norm)."""
    readings = [r for r in book["readings"] if not r.get("struck")]
    stations = list(dict.fromkeys(r["station"] for r in readings))
    shared = list(dict.fromkeys([f"f {r['finish']}" for r in readings]))
    shared += list(dict.fromkeys([f"s {r['setup']}" for r in readings]))
    column = {name: i for i, name in enumerate(stations + shared)}
    design = np.zeros((len(readings), len(column)))
    for row, r in zip(design, readings, strict=True):
        row[[column[r["station"]], column[f"f {r['finish']}"], column[f"s {r['setup']}"]]] = 1
    values = np.array([number(r["value"]) for r in readings])
    solution = np.linalg.lstsq(design, values, rcond=None)[0]
    zero = solution[column[book["reference"]["station"]]]
    return {name: solution[column[name]] - zero for name in stations}


def fit(xy: np.ndarray, level: np.ndarray) -> tuple[GaussianProcessRegressor, np.ndarray]:
    """Return the fitted process and the trend taken out before it."""
    basis = np.column_stack([np.ones(len(xy)), xy])
    trend = np.linalg.lstsq(basis, level, rcond=None)[0]
    kernel = ConstantKernel(0.1) * Matern(15.0, (3.0, 200.0), nu=2.5)
    kernel += WhiteKernel(0.004, (1e-5, 1.0))
    process = GaussianProcessRegressor(kernel)
    process.fit(xy, level - basis @ trend)
    return process, trend


def surface(area: dict[str, Any], book: dict[str, Any], levels: dict[str, float]) -> Surface:
    """Fit one area and predict it on the grid."""
    inside = [s for s in book["stations"] if s["area"] == area["id"] and s["id"] in levels]
    xy = np.array([s["at"] for s in inside], float)
    level = np.array([levels[s["id"]] for s in inside])
    process, trend = fit(xy, level)
    outline = np.array(area["outline"], float)
    low, high = outline.min(axis=0), outline.max(axis=0)
    step = (high - low).max() / GRID
    x, y = (np.arange(a, b + step, step) for a, b in zip(low, high, strict=True))
    nodes = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    mean, sd = process.predict(nodes, return_std=True)
    off = ~Outline(outline).contains_points(nodes, radius=1e-9)
    bent = np.where(off, np.nan, mean).reshape(len(y), len(x))
    mean = np.where(off, np.nan, mean + trend[0] + nodes @ trend[1:]).reshape(bent.shape)
    sd = np.where(off, np.nan, sd).reshape(bent.shape)
    ids = [s["id"] for s in inside]
    return Surface(area["id"], outline, ids, xy, level, x, y, mean, sd, bent)


def draw_plan(axes: Axes, book: dict[str, Any], surfaces: list[Surface], field: str) -> None:
    """Draw outlines, walls, marks, contours with labels, and every station's level."""
    for each in surfaces:
        axes.fill(*each.outline.T, fill=False, lw=1.5)
        values = getattr(each, field)
        axes.contourf(each.x, each.y, values, 12, cmap="cividis", alpha=0.4)
        lines = axes.contour(each.x, each.y, values, 12, colors="black", linewidths=0.6)
        axes.clabel(lines, fontsize=6)
        axes.plot(*each.xy.T, "k.", ms=2)
        for name, (x, y), level in zip(each.ids, each.xy, each.level, strict=True):
            axes.text(x, y, f"{level:.2f}", fontsize=5, ha="center", va="bottom")
            axes.text(x, y, name, fontsize=3.5, ha="center", va="top", color="gray")
    for wall in book.get("walls", []):
        axes.plot(*np.array(wall, float).T, color="gray", lw=0.8)
    for mark in book.get("marks", []):
        axes.plot(*mark["at"], "s", ms=3, color="tab:blue")
        axes.text(*mark["at"], mark["kind"], fontsize=4)
    axes.set_aspect("equal")


def plan_page(pdf: PdfPages, book: dict[str, Any], surfaces: list[Surface], field: str) -> None:
    """Draw one plan over a full page."""
    figure, axes = plt.subplots(figsize=LETTER)
    draw_plan(axes, book, surfaces, field)
    axes.set_title(field)
    pdf.savefig(figure)
    plt.close(figure)


def cover(pdf: PdfPages, book: dict[str, Any], surfaces: list[Surface]) -> None:
    """Draw the first page: what it is about, and the plan."""
    figure = plt.figure(figsize=LETTER)
    figure.text(0.08, 0.94, book["property"]["label"], fontsize=18)
    span = max(float(each.level.max() - each.level.min()) for each in surfaces)
    said = [f"Visit of {book['visit']['date']}.", f"High and low differ by {span:.2f}."]
    figure.text(0.08, 0.88, "\n".join(said), fontsize=11, va="top")
    draw_plan(figure.add_axes((0.08, 0.05, 0.84, 0.72)), book, surfaces, "mean")
    pdf.savefig(figure)
    plt.close(figure)


def section_page(pdf: PdfPages, surfaces: list[Surface]) -> None:
    """Draw a profile along the longest wall of each area, its chord removed."""
    figure, rows = plt.subplots(max(len(surfaces), 2), figsize=LETTER)
    for axes, each in zip(rows, surfaces, strict=False):
        middle = each.mean[len(each.y) // 2]
        run = each.x[np.isfinite(middle)]
        rise = middle[np.isfinite(middle)]
        axes.plot(run, rise - np.interp(run, run[[0, -1]], rise[[0, -1]]))
        axes.set_title(each.name)
        axes.grid(visible=True)
    pdf.savefig(figure)
    plt.close(figure)


def table_pages(pdf: PdfPages, title: str, head: list[str], rows: list[list[str]]) -> None:
    """Draw a table over as many pages as it needs."""
    for start in range(0, len(rows), ROWS):
        figure, axes = plt.subplots(figsize=LETTER)
        axes.axis("off")
        axes.set_title(title)
        axes.table(cellText=rows[start : start + ROWS], colLabels=head, loc="upper center")
        pdf.savefig(figure)
        plt.close(figure)


def text_page(pdf: PdfPages, title: str, lines: list[str]) -> None:
    """Draw a page of prose."""
    figure = plt.figure(figsize=LETTER)
    figure.text(0.08, 0.94, title, fontsize=14)
    figure.text(0.08, 0.9, "\n".join(lines), fontsize=9, va="top")
    pdf.savefig(figure)
    plt.close(figure)


def draw(target: str | Path, book: dict[str, Any], surfaces: list[Surface]) -> None:
    """Draw the report's pages into one PDF."""
    levels = {n: v for each in surfaces for n, v in zip(each.ids, each.level, strict=True)}
    readings = [
        [r["id"], r["station"], r["setup"], r["finish"], str(r["value"]),
         f"{levels.get(r['station'], float('nan')):.2f}"]
        for r in book["readings"]
    ]  # fmt: skip
    with PdfPages(target) as pdf:
        cover(pdf, book, surfaces)
        for field in ("mean", "sd", "bent"):
            plan_page(pdf, book, surfaces, field)
        section_page(pdf, surfaces)
        text_page(pdf, "Findings", ["A criterion, its limit and its source."] * 20)
        head = ["reading", "station", "setup", "finish", "as written", "level"]
        table_pages(pdf, "Readings", head, readings)
        text_page(pdf, "How it was measured", ["A sentence about the method."] * 30)
        text_page(pdf, "Cautions", ["A sentence of caution."] * 20)


def surfaces_of(book: dict[str, Any]) -> list[Surface]:
    """Adjust and fit every area with enough stations."""
    levels = adjust(book)
    enough = [
        area
        for area in book["areas"]
        if sum(s["area"] == area["id"] and s["id"] in levels for s in book["stations"]) >= 5
    ]
    return [surface(area, book, levels) for area in enough]


def main() -> None:
    """Read a book and write its report."""
    book = json.loads(Path(sys.argv[1]).read_text("utf-8"))
    draw(sys.argv[2], book, surfaces_of(book))


if __name__ == "__main__":
    main()
