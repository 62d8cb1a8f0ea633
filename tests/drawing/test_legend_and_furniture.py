"""What stands round the plan: legend, scale, north, dial, and where the plan lies."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from drawing_houses import RECTANGLE, Plot, area, dish, full_house, house

from levelbook.book.model import Units
from levelbook.drawing import Parts, plan, records, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.frame import bounds, fit
from levelbook.drawing.records import Circle, Line, Path, Polygon, Text, flatten
from levelbook.drawing.wording import (
    compass,
    decimals_of,
    direction_sd,
    nice_step,
    number,
    ratio_words,
    slope_words,
)
from levelbook.floor.model import Tilt
from levelbook.levels.model import Group

WORDS = {
    "vehicle door": "vehicle door",
    "own zero": "own zero: not tied",
    "section": "section",
    "crack": "crack or separation",
    "distress": "sign of distress",
    "suspect": "reading that does not fit",
    "struck": "reading is struck",
    "unread": "station not read",
    "front door": "front door",
    "water heater": "water heater",
    "drain": "drain",
    "tree": "tree",
    "low": "ticks point into a low",
}


def legend(parts: Parts, kind: str = "levels") -> str:
    """Return the words of a legend in one string."""
    drawing = plan(parts, kind=kind, width_mm=190, height_mm=240)
    found = [t for t in flatten(drawing.items) if isinstance(t, Text) and t.role == "legend"]
    return " ".join(t.text.replace("\u00a0", " ") for t in found)


def test_legend_tells_all_that_is_drawn():
    """A house with everything has every entry but the one for lows."""
    said = legend(full_house())
    for key, words in WORDS.items():
        assert (words in said) == (key != "low"), key


def with_strays(names: tuple[str, ...]) -> Parts:
    """Return a house of which some stations hang on a zero of their own."""
    parts = house([Plot(area("house", RECTANGLE))], [30])
    levels = {
        name: replace(level, group="B") if name in names else level
        for name, level in parts.levels.stations.items()
    }
    other = Group("B", names[0], "tile", names)
    groups = (*parts.levels.groups, other)
    return replace(parts, levels=replace(parts.levels, stations=levels, groups=groups))


def test_levels_above_another_zero_stand_in_brackets():
    """Within one floor they do not compare, so number, symbol, legend and tap all say so."""
    parts = with_strays(("ho5", "ho6"))
    drawing = plan(parts, width_mm=190, height_mm=240)
    stations = {
        i.id: i for i in drawing.items if isinstance(i, records.Group) and i.role == "station"
    }
    for name, station in stations.items():
        words = [t.text for t in flatten(station.items) if isinstance(t, Text)]
        assert all(w.startswith("(") == (name in ("ho5", "ho6")) for w in words), name
    assert any("(" in t.text for t in flatten(stations["ho6"].items) if isinstance(t, Text))
    assert stations["ho6"].title.endswith("above another zero")
    assert "level in brackets: above another zero" in legend(parts)
    assert "brackets" not in legend(house([Plot(area("house", RECTANGLE))], [30]))
    roles = [r.role for r in flatten(plan(parts, kind="error", width_mm=190).items)]
    assert roles.count("station-stray") == 2 + 1  # and one in the legend


def test_an_area_with_a_zero_of_its_own_needs_no_brackets():
    """Where a whole floor hangs on its own zero, its name and colours say so already."""
    assert "brackets" not in legend(full_house())


@pytest.mark.parametrize(("sd", "told"), [(0.0005, "falls"), (0.0009, "no clear direction")])
def test_a_dial_points_where_the_words_do(sd, told):
    """An arrow is drawn where the findings tell a direction: slope 1.96 times its sd or more."""
    tilt = Tilt(0.0016, sd, 118.0, -0.0014, 0.0007, sd, sd, 0.0016, 118.0, 0, 0)
    parts = house([Plot(area("house", RECTANGLE))], [30])
    shape = replace(parts.floor.areas["house"], tilt=tilt)
    assert (
        told in legend(replace(parts, floor=replace(parts.floor, areas={"house": shape}))).lower()
    )


def test_legend_tells_nothing_that_is_not_drawn():
    """A plain house has no entry for what it does not show, and one for its low."""
    said = legend(house([Plot(area("house", RECTANGLE), dish)], [30]))
    for key, words in WORDS.items():
        assert (words in said) == (key == "low"), key


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"suspects": []}, "suspect"),
        ({"struck": []}, "struck"),
        ({"unread": []}, "unread"),
        ({"sections": []}, "section"),
        ({"distress": []}, "distress"),
        ({"marks": []}, "tree"),
    ],
)
def test_each_entry_comes_and_goes_with_its_thing(change, key):
    """Taking one thing off the plan takes its words off the legend."""
    assert WORDS[key] not in legend(full_house(**change))


def test_a_first_look_shows_less_and_larger():
    """It leaves out sections and all marks but the front door, and what explains them."""
    parts = full_house()
    full, brief = (plan(parts, width_mm=180, height_mm=110, brief=b) for b in (False, True))
    size = [
        np.ptp(next(s for s in flatten(d.items) if s.role == "ground").rings[0], axis=0)
        for d in (full, brief)
    ]
    shown = {s.role for s in flatten(brief.items)}
    said = " ".join(s.text for s in flatten(brief.items) if isinstance(s, Text))
    assert (size[1] > size[0]).all()
    assert not shown & {"section", "section-id", "mark-label"}
    assert "front door" in said
    assert "water heater" not in said
    assert "sign of distress" in said


def test_error_drawing_tells_where_to_read_next():
    """The drawing of standard errors numbers the places and says what they are."""
    parts = full_house()
    drawing = plan(parts, kind="error", width_mm=190, height_mm=240)
    badges = [t.text for t in flatten(drawing.items) if isinstance(t, Text) and t.role == "next"]
    assert sorted(badges) == ["1", "1", "2", "3", "4"]  # one more is the sample in the legend
    assert "4 places where one more reading" in legend(parts, "error")
    assert "Standard error" in legend(parts, "error")


def test_deflection_drawing_tells_the_worst_line_with_its_uncertainty():
    """The line that bends most stands on the plan and in the legend with its interval."""
    parts = house([Plot(area("house", RECTANGLE))], [30])
    shape = parts.floor.areas["house"]
    drawing = plan(parts, kind="deflection", width_mm=190, height_mm=240)
    shapes = list(flatten(drawing.items))
    (said,) = [s for s in shapes if isinstance(s, Text) and s.role == "worst"]
    assert said.text.replace("\u00a0", " ") == f"+{shape.deflection.deflection:.2f} ± 0.16"
    assert "46.0 ft, 1 in" in legend(parts, "deflection")
    (chord,) = [s for s in shapes if isinstance(s, Line) and s.role == "chord"]
    assert np.hypot(*np.subtract(chord.b, chord.a)) > 100


def test_a_house_without_worst_line_draws_none():
    """Where no line was found, none is drawn and none is told."""
    parts = house([Plot(area("house", RECTANGLE))], [30], worst=False)
    shapes = flatten(plan(parts, kind="deflection", width_mm=190).items)
    assert not [s for s in shapes if s.role == "chord"]
    assert "bends most" not in legend(parts, "deflection")


def test_scale_bar_is_to_scale():
    """The bar is as long on the sheet as it says."""
    parts = house([Plot(area("house", RECTANGLE))], [30])
    shapes = list(flatten(plan(parts, width_mm=190, height_mm=240).items))
    bars = [s for s in shapes if isinstance(s, Polygon) and s.role == "scale"]
    figures = [s.text for s in shapes if isinstance(s, Text) and s.role == "scale"]
    left = min(b.rings[0][:, 0].min() for b in bars)
    right = max(b.rings[0][:, 0].max() for b in bars)
    ground = next(s for s in shapes if s.role == "ground")
    scale = np.ptp(ground.rings[0][:, 0]) / 48.0
    assert figures[0] == "0"
    assert right - left == pytest.approx(float(figures[-1].split()[0]) * scale, rel=1e-6)
    assert figures[-1].endswith(" ft")


def test_the_plan_is_not_distorted_and_up_is_up():
    """One scale both ways; a point farther up the plan is higher on the sheet."""
    parts = full_house()
    frame = fit(bounds(parts.book), (10, 10, 150, 140))
    (x0, y0), (x1, y1) = frame.point((0, 0)), frame.point((10, 20))
    assert x1 - x0 == pytest.approx(10 * frame.scale)
    assert y0 - y1 == pytest.approx(20 * frame.scale)
    assert frame.points([(0, 0), (10, 20)]) == pytest.approx(np.array([[x0, y0], [x1, y1]]))


@pytest.mark.parametrize(
    ("direction", "toward"),
    [(0, (0, -1)), (90, (1, 0)), (180, (0, 1)), (270, (-1, 0)), (45, (0.7071, -0.7071))],
)
def test_the_dial_points_downhill(direction, toward):
    """Directions run clockwise from up the sheet, and the arrow points there."""
    items = symbols.dial((0.0, 0.0), 5.0, direction, 10.0)
    shaft = next(s for s in items if isinstance(s, Line))
    along = np.subtract(shaft.b, shaft.a)
    assert along / np.hypot(*along) == pytest.approx(toward, abs=1e-3)


def test_a_dial_without_direction_has_no_arrow():
    """Where the fall could be any way, the dial shows none."""
    for direction, spread in ((None, 0.0), (20.0, 120.0)):
        items = symbols.dial((0.0, 0.0), 5.0, direction, spread)
        assert not any(isinstance(s, Line) for s in items)


@pytest.mark.parametrize("direction", [0.0, 20.0, 135.0, 300.0])
def test_north_points_north(direction):
    """The arrow and its letter stand in the direction of north."""
    items = symbols.north((0.0, 0.0), 3.0, direction, 2.0)
    letter = next(s for s in items if isinstance(s, Text))
    t = np.radians(direction)
    middle = letter.corners().mean(axis=0)
    assert middle @ [np.sin(t), -np.cos(t)] > 3.0


def test_no_north_arrow_without_north():
    """Without a north there is no arrow and no compass word."""
    shapes = list(flatten(plan(full_house(north=None), width_mm=190).items))
    assert not [s for s in shapes if s.role == "north"]
    assert "as the arrow points" in legend(full_house(north=None))


def test_vehicle_door_opens_the_wall():
    """The outline has a gap at the vehicle door."""
    parts = full_house()
    shapes = list(flatten(plan(parts, width_mm=190, height_mm=240).items))
    walls = next(s for s in shapes if isinstance(s, Path) and s.role == "outline")
    leaf = next(s for s in shapes if isinstance(s, Line) and s.role == "door")
    middle = shapely.Point(*np.mean([leaf.a, leaf.b], axis=0))
    assert min(shapely.LineString(run).distance(middle) for run in walls.runs[:3]) > 5.0


@pytest.mark.parametrize("kind", [*symbols.MARKS, "something else"])
def test_every_mark_has_a_symbol_of_its_size(kind):
    """Every kind of mark, and any other word, draws shapes about as large as asked."""
    for shape in symbols.mark(kind, (10.0, 10.0), 1.5):
        if isinstance(shape, Circle):
            assert np.hypot(shape.at[0] - 10, shape.at[1] - 10) + shape.radius < 2.2
        elif isinstance(shape, Polygon):
            assert np.abs(np.vstack(shape.rings) - 10).max() < 2.2


def test_unknown_marks_are_named():
    """A mark without a symbol of its own shows a dot and its word."""
    parts = full_house(marks=[{"kind": "sewer-cleanout", "at": (10, 20)}])
    shapes = flatten(plan(parts, width_mm=190, height_mm=240).items)
    assert "sewer cleanout" in [s.text for s in shapes if s.role == "mark-label"]


def test_distress_is_numbered_in_the_order_of_the_book():
    """The n-th sign in the book carries number n, a crack a zigzag."""
    shapes = list(flatten(plan(full_house(), width_mm=190, height_mm=240).items))
    numbers = [s.text for s in shapes if isinstance(s, Text) and s.role == "distress"]
    assert sorted(numbers) == ["1", "1", "2"]  # the legend has a sample
    lines = [s for s in shapes if isinstance(s, Path) and s.role == "distress"]
    assert len(lines) == 1
    assert len(lines[0].runs[0]) > 5


def test_zigzag_keeps_its_ends():
    """A zigzag begins and ends where its line does, a point twice makes no harm."""
    run = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 0.0], [10.0, 8.0]])
    out = symbols.zigzag(run)
    assert out[0] == pytest.approx(run[0])
    assert out[-1] == pytest.approx(run[-1])
    assert np.abs(out[:6, 1]).max() == pytest.approx(0.45)


def test_an_arrow_without_length_is_nothing():
    """No arrow is drawn where there is nothing to point at."""
    assert symbols.arrow((1.0, 1.0), (1.0, 1.0), symbols.Pen(look.INK, 0.3)) == ()


@pytest.mark.parametrize(
    ("value", "decimals", "plus", "said"),
    [
        (-0.85, 2, False, "−0.85"),
        (0.851, 2, True, "+0.85"),
        (-0.001, 2, False, "0.00"),
        (0.0, 1, True, "0.0"),
        (12.0, 0, False, "12"),
    ],
)
def test_numbers_are_written_plainly(value, decimals, plus, said):
    """A true minus, a plus only where asked, and no negative zero."""
    assert number(value, decimals, plus=plus) == said


@pytest.mark.parametrize(("resolution", "decimals"), [(0.1, 2), (0.0625, 2), (0.01, 3), (1.0, 1)])
def test_levels_have_one_decimal_more_than_the_instrument(resolution, decimals):
    """A tenth of an inch is written to the hundredth."""
    parts = house([Plot(area("house", RECTANGLE))], [20], resolution=resolution)
    assert decimals_of(parts.book) == decimals


@pytest.mark.parametrize(("least", "step"), [(0.07, 0.1), (0.1, 0.1), (0.11, 0.2), (3.0, 5.0)])
def test_nice_steps(least, step):
    """Steps are 1, 2 or 5 times a power of ten."""
    assert nice_step(least) == pytest.approx(step)


def test_a_slope_is_worded_in_the_units_of_the_book():
    """1 in 240 is an inch in twenty feet, 4.2 mm in a metre; the level's unit decides."""
    slope, sd = 1 / 240, 0.1 / 240
    units = {
        key: Units(level=key[0], plan=key[1]) for key in (("in", "ft"), ("mm", "m"), ("in", "m"))
    }
    said = {key: slope_words(slope, sd, u).replace("\u00a0", " ") for key, u in units.items()}
    assert said["in", "ft"] == "1.00 ± 0.20 in per 20 ft"
    assert said["mm", "m"] == "4.2 ± 0.9 mm per m"
    assert said["in", "m"] == said["in", "ft"]


def test_a_ratio_carries_its_interval():
    """The ends of the interval are those of the deflection; beyond 0 only one can be told."""
    said = ratio_words(360.0, 1.0, 0.1).replace("\u00a0", " ")
    assert said == "1 in 360 (300 to 450)"
    assert ratio_words(360.0, 0.1, 0.1).replace("\u00a0", " ") == "flatter than 1 in 1,200"
    assert "100,000" in ratio_words(360.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("direction", "north", "word"),
    [(0, 0, "north"), (90, 0, "east"), (225, 0, "south-west"), (90, 90, "north"), (10, None, None)],
)
def test_compass_words(direction, north, word):
    """Words follow the sheet's north; without one there is no word."""
    assert compass(direction, north) == word


def test_direction_is_as_sure_as_the_slope():
    """A slope ten times its standard error is known to about 6 degrees, none to any."""
    tilt = Tilt(0.01, 0.001, 90.0, -0.01, 0.0, 0.001, 0.001, 0.01, 90.0, 0, 0)
    assert direction_sd(tilt) == pytest.approx(np.degrees(0.1))
    level = Tilt(0.0, 0.001, None, 0.0, 0.0, 0.001, 0.001, 0.0, None, 0, 0)
    assert direction_sd(level) == 180.0
