"""Many visits: tracks on one datum, lines through them, and the yearly swing."""

import numpy as np
import pytest
from visit_pairs import SD, lifted_levels, metric, pair, visit

from levelbook.book import read_book
from levelbook.demo import house
from levelbook.errors import UsageError
from levelbook.movement import Visit
from levelbook.movement.series import follow
from levelbook.movement.simulate import second_visit
from levelbook.movement.trend import fit_trend

NORRIS = """.1,.2 338.8,337.4 118.1,118.2 888.0,884.6 9.2,10.1 228.1,226.5 668.5,666.3 998.5,996.3
449.1,448.6 778.9,777.0 559.2,558.2 .3,.4 .1,.6 778.1,775.5 668.8,666.9 339.3,338.0 448.9,447.5
10.8,11.6 557.7,556.0 228.3,228.1 998.0,995.8 888.8,887.6 119.6,120.2 .3,.3 .6,.3 557.6,556.8
339.3,339.1 888.0,887.2 998.5,999.0 778.9,779.0 10.2,11.1 117.6,118.3 228.9,229.2 668.4,669.1
449.2,448.9 .2,.5"""


def test_a_line_is_that_of_the_certified_regression() -> None:
    """NIST StRD Norris: slope and its standard error, the certified values."""
    told = np.array([each.split(",") for each in NORRIS.split()], dtype=float)
    y, x = told.T
    found = fit_trend(x, y, np.full(len(x), 0.884796396144373), swing=False)
    assert found is not None
    assert found.rate == pytest.approx(1.00211681802045, rel=1e-12)
    assert found.rate_sd == pytest.approx(4.29796848199937e-4, rel=1e-12)
    assert found.chi2 == pytest.approx(34)
    assert found.dof == 34


def test_a_yearly_swing_is_found_as_it_is() -> None:
    """Exact values of a line and a swing give both back, by rate, cosine and sine."""
    t = np.array([0.0, 0.2, 0.45, 0.7, 1.0, 1.3, 1.6, 2.1])
    y = 0.3 - 0.5 * t + 0.3 * np.cos(2 * np.pi * t) - 0.4 * np.sin(2 * np.pi * t)
    found = fit_trend(t, y, np.full(len(t), 0.1))
    assert found is not None
    assert found.rate == pytest.approx(-0.5)
    assert (found.cosine, found.sine) == (pytest.approx(0.3), pytest.approx(-0.4))
    assert found.swing == pytest.approx(0.5)
    assert found.chi2 == pytest.approx(0.0, abs=1e-18)
    assert found.dof == 4


@pytest.mark.parametrize(
    ("years", "kind"),
    [
        ([0.0, 1.0], None),
        ([0.0, 0.1, 0.2], None),
        ([0.0, 0.5, 1.0], "line"),
        ([0.0, 1.0, 2.0, 3.0, 4.0, 5.0], "line"),
        ([0.0, 0.3, 0.6, 0.9], "line"),
        ([0.0, 0.3, 0.6, 0.9, 1.2], "swing"),
    ],
)
def test_no_more_is_fitted_than_the_visits_allow(years: list[float], kind: str | None) -> None:
    """Too few, too close, or all in one season: no line, or no swing."""
    values = np.arange(float(len(years)))
    found = fit_trend(years, values, np.full(len(years), 0.1))
    assert (found is None) == (kind is None)
    if found is not None:
        assert (found.swing is not None) == (kind == "swing")


def visits(count: int, step: float = 0.4, *, stations: int = 24) -> list[Visit]:
    """Return a house visited again and again; one corner sinks evenly, 0.3 in a year."""
    house, _, moved, _ = pair(3, 1.0, stations=stations)
    rng = np.random.default_rng(5)
    start = np.datetime64("2026-01-15")
    out = [visit(house.book)]
    for k in range(1, count):
        rise = {i: 0.3 * step * k * m for i, m in moved.items()}
        book = second_visit(rng, house, rise, SD)
        day = str(start + round(step * k * 365.25))
        out.append(
            visit(book.model_copy(update={"visit": book.visit.model_copy(update={"date": day})}))
        )
    return out


def test_tracks_follow_the_true_movement() -> None:
    """Rates of the stations are the true ones within their errors, nearly always."""
    _, _, moved, _ = pair(3, 1.0, stations=24)
    found = follow(visits(7))
    assert found.years[-1] == pytest.approx(2.4, abs=0.01)
    z = [
        (track.trend.rate - 0.3 * moved[i]) / track.trend.rate_sd
        for i, track in found.stations.items()
        if track.trend is not None
    ]
    assert len(z) == 24
    assert np.mean(np.abs(z) < 3) >= 0.9
    assert 0.4 < np.std(z) < 1.8


def test_change_since_the_first_visit_is_that_of_the_comparison() -> None:
    """With all stations in the datum, a track's last change is its level less the mean's."""
    seen = visits(3, stations=20)
    still = [seen[0], *(Visit(v.book, v.levels) for v in seen[1:])]
    found = follow(still)
    track = next(iter(found.stations.values()))
    assert track.change[0] == 0.0
    assert track.sd[0] == 0.0
    assert track.visits == (0, 1, 2)
    assert all(sd > 0 for sd in track.sd[1:])


def test_tilt_in_time_is_that_of_an_exact_plane() -> None:
    """Levels risen by a growing plane give its slope in time, and no bend."""
    book = pair(9, 0.0, stations=20)[0].book
    seen = [visit(book)]
    for k, day in ((1, "2026-07-15"), (2, "2027-01-15")):
        rise = {s.id: 0.02 * k * s.at[0] for s in book.stations}
        again = lifted_levels(book, rise)
        seen.append(
            visit(again.model_copy(update={"visit": book.visit.model_copy(update={"date": day})}))
        )
    found = follow(seen)
    assert found.tilt_x is not None
    assert found.tilt_y is not None
    assert found.tilt_x.change == pytest.approx((0.0, 0.02 / 12, 0.04 / 12), abs=1e-6)
    assert found.tilt_y.change == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)
    assert found.tilt_x.trend is not None
    assert found.tilt_x.trend.rate == pytest.approx(0.04 / 12, rel=0.02)
    assert found.deflection is not None
    assert found.deflection.change == pytest.approx((0.0, 0.0, 0.0), abs=1e-4)


def test_two_visits_are_no_series_and_order_is_kept() -> None:
    """Fewer than three visits, or visits out of order, are refused in words."""
    seen = visits(3, stations=20)
    with pytest.raises(UsageError, match="three or more"):
        follow(seen[:2])
    with pytest.raises(UsageError, match="order of their dates"):
        follow([seen[0], seen[2], seen[1]])


def test_bend_and_tilt_in_time_end_at_the_whole_comparison() -> None:
    """Read alike on every visit, the last change is that of the first and last visit compared."""
    found = follow(visits(4))
    area = found.whole.areas[found.whole.main]
    assert found.deflection is not None
    assert area.deflection is not None
    assert found.deflection.change[-1] == pytest.approx(area.deflection.value, abs=1e-6)
    assert found.tilt_x is not None
    assert found.tilt_y is not None
    assert area.tilt is not None
    assert found.tilt_x.change[-1] == pytest.approx(area.tilt.x, abs=1e-9)
    assert found.tilt_y.change[-1] == pytest.approx(area.tilt.y, abs=1e-9)
    assert found.line == area.deflection


def test_no_swing_at_all_has_the_error_of_its_terms() -> None:
    """Where cosine and sine are exactly 0, the swing's sd lies between theirs."""
    t = np.array([0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0])
    found = fit_trend(t, np.zeros(len(t)), np.full(len(t), 0.1))
    assert found is not None
    assert found.swing == 0.0
    # Nine visits a quarter of a year apart: each term is known to about 0.1 / sqrt(9 / 2).
    assert found.swing_sd == pytest.approx(0.1 * (2 / 9) ** 0.5, rel=0.2)


def test_swing_sd_is_that_along_the_swing() -> None:
    """A swing of cosine alone has the sd of the cosine term, checked by the normal equations."""
    t = np.array([0.0, 0.1, 0.3, 0.6, 1.0, 1.1, 1.5])
    found = fit_trend(t, np.cos(2 * np.pi * t), np.full(len(t), 0.1))
    design = np.column_stack([np.ones(len(t)), t, np.cos(2 * np.pi * t), np.sin(2 * np.pi * t)])
    covariance = 0.01 * np.linalg.inv(design.T @ design)
    assert found is not None
    assert found.swing_sd == pytest.approx(covariance[2, 2] ** 0.5, rel=1e-6)
    assert found.rate_sd == pytest.approx(covariance[1, 1] ** 0.5, rel=1e-9)
    assert found.years == pytest.approx(1.5)
    assert found.visits == 7


def test_tracks_have_the_errors_of_both_visits() -> None:
    """The sd of a change is that of two independent visits, the datum's mean taken off each."""
    seen = visits(3)
    found = follow(seen)
    ids = list(found.stations)
    rows = np.eye(len(ids)) - np.isin(ids, found.datum) / len(found.datum)
    spread = [np.diag(rows @ v.levels.covariance(ids) @ rows.T) for v in seen]
    level = [rows @ v.levels.level[[v.levels.index[i] for i in ids]] for v in seen]
    for k, station in enumerate(ids):
        track = found.stations[station]
        for n in (1, 2):
            expected = (spread[0][k] + spread[n][k]) ** 0.5
            assert track.sd[n] == pytest.approx(expected)
            assert track.change[n] == pytest.approx(level[n][k] - level[0][k])


def test_visits_in_other_units_are_followed_in_the_first_ones() -> None:
    """A visit in millimetres and metres gives the same tracks, in inches."""
    seen = visits(3)
    plain = follow(seen)
    mixed = follow([seen[0], visit(metric(seen[1].book)), seen[2]])
    for station, track in plain.stations.items():
        assert mixed.stations[station].change == pytest.approx(track.change, abs=1e-7)
        assert mixed.stations[station].sd == pytest.approx(track.sd)
    assert plain.tilt_x is not None
    assert mixed.tilt_x is not None
    assert mixed.tilt_x.change == pytest.approx(plain.tilt_x.change, abs=1e-9)


def test_without_common_ground_all_matched_stations_hold() -> None:
    """Where no two stations hold on every visit, the mean of all matched ones stands in."""
    book = pair(9, 0.0, stations=20)[0].book
    ids = [s.id for s in book.stations]
    seen = [visit(book)]
    for k, day in ((0, "2026-07-15"), (1, "2027-01-15")):
        rise = {i: 3.0 + n for n, i in enumerate(ids) if (n < 10) == (k == 0)}
        again = lifted_levels(book, rise)
        seen.append(
            visit(again.model_copy(update={"visit": book.visit.model_copy(update={"date": day})}))
        )
    found = follow(seen)
    assert set(found.datum) == set(ids)
    assert all(not each.datum.majority or each.datum.removed for each in found.comparisons)


def test_a_day_that_is_none_is_refused() -> None:
    """A date that cannot be counted from is told with how to write it."""
    seen = visits(3)
    last = seen[2].book
    odd = last.model_copy(update={"visit": last.visit.model_copy(update={"date": "next spring"})})
    with pytest.raises(UsageError, match="2026-05-31"):
        follow([*seen[:2], Visit(odd, seen[2].levels)])


def test_tracks_are_of_the_part_that_the_zero_belongs_to() -> None:
    """A garage on its own zero has no track: nothing ties it to the house's datum."""
    book = read_book(house())
    seen = []
    for day in ("2026-01-15", "2026-08-15", "2027-02-15"):
        told = book.visit.model_copy(update={"date": day})
        seen.append(visit(book.model_copy(update={"visit": told})))
    found = follow(seen)
    assert set(found.stations) == {s.id for s in book.stations if s.area == "house"}
    assert set(found.datum) <= set(found.stations)
