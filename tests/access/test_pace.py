"""A session may send far more requests than a person makes, and fewer than a machine could."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from levelbook.app import pace
from levelbook.app.access import Access
from levelbook.app.pace import BURST, RATE, Pace


class Clock:
    """A clock that the test moves."""

    now = 1000.0

    def __call__(self) -> float:
        """Return the time."""
        return self.now


def test_a_burst_passes_and_then_it_waits():
    """Five hundred at once, then as many as flow in."""
    clock = Clock()
    held = Pace(clock=clock)
    assert [held.wait("a") for _ in range(int(BURST))] == [0.0] * int(BURST)
    assert held.wait("a") == pytest.approx(1 / RATE)
    clock.now += 1.0
    assert sum(held.wait("a") == 0.0 for _ in range(200)) == int(RATE)
    assert held.wait("b") == 0.0


def test_who_waits_as_told_goes_on():
    """A request that waited is not in vain, and hammering does not make the wait longer."""
    clock = Clock()
    held = Pace(rate=2, burst=3, clock=clock)
    waits = [held.wait("a") for _ in range(20)]
    assert waits == [0.0] * 3 + [0.5] * 17
    clock.now += waits[-1]
    assert held.wait("a") == 0.0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 3.0), min_size=1, max_size=200))
def test_never_more_than_burst_and_flow(pauses):
    """However requests are spread, those that pass are at most a burst and what flows in."""
    clock = Clock()
    held = Pace(rate=2, burst=5, clock=clock)
    begun, passed = clock.now, 0
    for pause in pauses:
        clock.now += pause
        passed += held.wait("a") == 0.0
        assert passed <= 5 + 2 * (clock.now - begun) + 1e-6


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.02, 2.0), min_size=1, max_size=300))
def test_whoever_keeps_to_the_pace_never_waits(pauses):
    """Fifty a second for as long as one likes."""
    clock = Clock()
    held = Pace(clock=clock)
    for pause in pauses:
        clock.now += pause
        assert held.wait("a") == 0.0


def test_what_is_remembered_has_an_end():
    """However many sessions come, the table does not grow past its end."""
    held = Pace(most=10, clock=Clock())
    for number in range(1000):
        held.wait(str(number))
    assert len(held) == 10


@pytest.fixture
def hurried(world, monkeypatch):
    """Give a server on which ten requests are a burst."""
    held = Pace(rate=0.5, burst=10)
    monkeypatch.setattr(Access, "_too_fast", _with(held))
    return world


def _with(held: Pace):
    plain = Access._too_fast

    def too_fast(self, known):
        self.pace = held
        return plain(self, known)

    return too_fast


def test_the_server_says_when_to_go_on(hurried):
    """429 with Retry-After, for that session alone; nobody signed in and others go on."""
    fast, other = (hurried.caller(hurried.one, "surveyor") for _ in range(2))
    told = [hurried.ask("GET", "/api/me", fast) for _ in range(12)]
    assert [answer.status_code for answer in told] == [200] * 10 + [429] * 2
    assert told[-1].json()["error"]["code"] == "too-many"
    assert told[-1].headers["retry-after"] == "2"
    assert hurried.ask("GET", "/api/me", other).status_code == 200
    assert hurried.ask("GET", "/api/me").status_code == 401


def test_a_day_offline_is_caught_up(world):
    """A device with 15,000 entries sends them in thirty-one requests, far below the limit."""
    caller = world.caller(world.one, "surveyor")
    for _ in range(31):
        body = {"since": 0, "entries": []}
        path = "/api/visits/11111111-1111-4111-8111-111111111111/sync"
        assert world.ask("POST", path, caller, json=body).status_code == 200
    assert pace.BURST >= 10 * 31
