"""Figures over an archive: whom they count, how they are told, and where a house stands."""

import json
from pathlib import Path
from typing import Any

import pytest
from archives import books, folder_of

from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.crew import Alone
from levelbook.archive.evaluation.figures import (
    ALL,
    LEAST,
    NOT_TOLD,
    QUANTITIES,
    By,
    Houses,
    groups,
    kind_of,
    place_house,
    read_houses,
    spread,
)
from levelbook.archive.evaluation.quantiles import quantile
from levelbook.archive.evaluation.run import run
from levelbook.archive.evaluation.source import FolderSource
from levelbook.archive.evaluation.telling import HousePlaced, cells, document, house_sentences


def house(number: int, **changes: Any) -> dict[str, Any]:
    """Return a row as it comes out of an archive."""
    told: dict[str, Any] = {"visit": f"v{number:04}", "firm": "acme", "house": f"h{number:04}"}
    told |= {"date": "2026-01-01", "purpose": "baseline", "foundation": "basement"}
    told |= {"year_built": 1980, "suspects": 0, "written_in": "in"}
    told |= {"range": 10.0 + number, "range_sd": 1.0, "tilt": 0.001 * number, "tilt_sd": 1e-4}
    return told | {"deflection_ratio": 0.001, "deflection_ratio_sd": 1e-4} | changes


def houses(*rows: dict[str, Any]) -> Houses:
    """Return rows as the houses of an archive."""
    return Houses(rows, len(rows), 0)


@pytest.fixture(scope="module")
def evaluated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a small evaluated archive: a house twice, and one with a slip."""
    some = books(16)
    twice = some[3].model_copy(update={"property": some[5].property})
    later = twice.visit.model_copy(update={"date": "2026-08-01"})
    some[3] = twice.model_copy(update={"visit": later})
    wrong = some[7].readings[4].model_copy(update={"value": "9.9"})
    readings = (*some[7].readings[:4], wrong, *some[7].readings[5:])
    some[7] = some[7].model_copy(update={"readings": readings})
    base = tmp_path_factory.mktemp("archive")
    run(FolderSource(folder_of(some, base / "books")), Criteria(), base / "out", Alone())
    return base / "out"


def test_one_visit_speaks_for_a_house(evaluated: Path) -> None:
    """The latest visit counts, an earlier one and one with a slip do not; both are told."""
    found = read_houses(evaluated)
    names = [row["visit"] for row in found.rows]
    assert found.visits == 16
    assert found.slips == 1
    assert "v003.json" in names
    assert not {"v005.json", "v007.json"} & set(names)
    assert len({row["house"] for row in found.rows}) == len(names)


@pytest.mark.parametrize(
    ("by", "kind"),
    [
        ("year-built", "1980 to 1989"),
        ("foundation", "basement"),
        ("purpose", "baseline"),
        ("firm", "acme"),
        ("all", ALL),
    ],
)
def test_kinds(by: By, kind: str) -> None:
    """A house belongs to its decade, foundation, purpose, firm, or to all."""
    assert kind_of(house(1), by) == kind
    nothing = dict.fromkeys(house(1))
    assert kind_of(nothing, by) == (ALL if by == "all" else NOT_TOLD)


def test_every_house_is_in_one_group() -> None:
    """Groups share the houses among them; those of no kind come last."""
    some = [house(k, year_built=(None, 1979, 1980, 1989)[k % 4]) for k in range(20)]
    first, *others = groups(houses(*some), "year-built")
    assert first.name == ALL
    assert first.houses == sum(group.houses for group in others) == 20
    assert [g.name for g in others] == ["1970 to 1979", "1980 to 1989", NOT_TOLD]
    assert [g.houses for g in others] == [5, 10, 5]


def test_no_quantile_without_an_interval() -> None:
    """Whatever the number of houses, each quantile told has an interval around it."""
    for count in range(0, 90, 7):
        for quantity in QUANTITIES:
            found = spread([house(k) for k in range(count)], quantity)
            assert all(q.low <= q.value <= q.high for q in found.quantiles)
            assert all(q.coverage >= 0.95 for q in found.quantiles)
            assert len(found.quantiles) == sum(count >= n for n in (72, 13, 6, 13, 72))


def test_the_spread_is_of_the_values() -> None:
    """Quantiles are those of the column, houses without a floor left out; doubt is the rms."""
    some = [house(k, range_sd=3.0 if k % 2 else 4.0) for k in range(80)]
    some += [house(99, range=None, range_sd=None)]
    found = spread(some, "range")
    assert found.count == 80
    assert found.doubt == pytest.approx((0.5 * (9 + 16)) ** 0.5)
    middle = quantile([10.0 + k for k in range(80)], 0.5)
    assert middle in found.quantiles


def test_a_house_is_placed_among_others_of_its_kind() -> None:
    """Its own rows and other kinds are left out; what is above all others is told as such."""
    some = [house(k) for k in range(60)]
    some += [house(k, foundation="other", range=1_000.0) for k in range(60, 90)]
    own = house(59) | {"visit": "new"}
    kind, placed = place_house(houses(*some), own, "foundation")
    assert kind == "basement"
    by_quantity = {each.quantity: each for each in placed}
    assert by_quantity["range"].count == 59
    among = by_quantity["range"].among
    assert among is not None
    assert among.share > 0.97
    assert among.low < among.share <= among.high
    _, everywhere = place_house(houses(*some), own, "all")
    assert everywhere[0].among is not None
    assert everywhere[0].among.share == pytest.approx(59 / 89, abs=0.02)


def test_a_house_whose_kind_is_not_told_is_placed_among_all() -> None:
    """No one is compared with the accident of what was left unwritten."""
    some = [house(k) for k in range(20)] + [house(k, year_built=None) for k in range(20, 40)]
    kind, placed = place_house(houses(*some), house(77, year_built=None), "year-built")
    assert (kind, placed[0].count) == (ALL, 40)


def test_too_few_others_place_nobody() -> None:
    """With nine others there is no place, with ten there is."""
    for count in (LEAST - 1, LEAST):
        some = houses(*(house(k) for k in range(count)))
        _, placed = place_house(some, house(99), "all")
        assert (placed[0].among is None) == (count < LEAST)
        (told, *_) = house_sentences(HousePlaced("basement", placed, 0), "in")
        assert ("not placed" in told) == (count < LEAST)


def test_the_sentence_tells_figure_and_interval() -> None:
    """A plain sentence with ± and the interval of the place; slips come with a warning."""
    some = houses(*(house(k) for k in range(100)))
    kind, placed = place_house(some, house(200, range=60.0, range_sd=2.0), "foundation")
    told = house_sentences(HousePlaced(kind, placed, 2), "in")
    assert told[0].startswith("Highest less lowest, 2.36 ± 0.16 in: above about 50 % of the 100")
    assert "(basement); with 95 % confidence between " in told[0]
    assert told[1].startswith("Tilt, 20.00 ± 0.02 percent")
    assert told[2].startswith("Deflection ratio, 1 in 1,000 (")
    assert "look like slips: 2" in told[-1]
    nothing = dict.fromkeys(("range", "tilt", "deflection_ratio"))
    _, none = place_house(some, house(201, **nothing), "all")
    assert "too few readings" in house_sentences(HousePlaced(ALL, none, 0), "mm")[0]


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_intervals_in_tables_are_rounded_outward(unit: str) -> None:
    """What a table shows holds at least what was found, and a dash stands for none."""
    some = [house(k, range=20 + 0.317 * k, tilt=0.001 + 1e-5 * k) for k in range(40)]
    found = spread(some, "range")
    shown = cells(found, unit)
    assert [text == "–" for text in shown] == [True, False, False, False, True]
    size = 25.4 if unit == "in" else 1.0
    for quant, text in zip(found.quantiles, shown[1:4], strict=True):
        low, high = text.partition("(")[2].rstrip(")").split(" to ")
        assert float(low) <= quant.low / size <= quant.value / size <= quant.high / size
        assert quant.high / size <= float(high)
    ratio = cells(spread(some, "deflection_ratio"), unit)[2]
    assert ratio == "1 in 1,000\n(1,000 to 1,000)"


def test_the_document_is_json_with_intervals(evaluated: Path) -> None:
    """Figures as a document: each quantile has low and high, and the cautions go with it."""
    found = read_houses(evaluated)
    kind, placed = place_house(found, found.rows[0], "all")
    told = json.loads(
        json.dumps(
            document(found, "all", groups(found, "all"), HousePlaced(kind, placed, 0)),
            allow_nan=False,
        )
    )
    assert "no sample of all houses" in told["cautions"][0]
    quantiles = [q for g in told["groups"] for s in g["spreads"] for q in s["quantiles"]]
    assert quantiles
    assert all(q["low"] <= q["value"] <= q["high"] for q in quantiles)
    assert len(told["house"]["sentences"]) == 3
    assert told["left_out"] == {"slips": 1}
