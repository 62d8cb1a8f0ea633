"""How many photographs a person may add in a day, and how much a firm may keep."""

import hashlib
import io
from datetime import UTC, datetime, timedelta

import pytest
from PIL import Image
from two_firms import ADDRESS, made

from levelbook.app.photos import Photos
from levelbook.app.settings import Settings
from levelbook.cli.served import check_quota
from levelbook.errors import NoRoomError, TooManyError, UsageError
from levelbook.firm.quotas import DAY, RENEWED, Quota, Quotas
from levelbook.firm.roles import Who

NOW = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)
ANN, BEN = Who("firm", "ann", "surveyor"), Who("firm", "ben", "surveyor")


def photograph(number: int) -> bytes:
    """Return one of many small photographs."""
    data = io.BytesIO()
    Image.new("RGB", (8, 8), (number % 256, number // 256, 7)).save(data, "PNG")
    return data.getvalue()


def send(world, caller, number: int):
    """Send a photograph as somebody."""
    data = photograph(number)
    return world.ask("PUT", f"/api/photos/{hashlib.sha256(data).hexdigest()}", caller, content=data)


@pytest.fixture
def tight(database, tmp_path):
    """Give a server on which a person may add three photographs in a day."""
    settings = Settings(ADDRESS, folder=tmp_path, quota=Quota(photographs=3))
    with made(database, tmp_path, settings) as world:
        yield world


def test_a_person_may_add_so_many_in_a_day(tight):
    """The fourth is told to wait, in words; a colleague and another firm go on."""
    caller = tight.caller(tight.one, "surveyor")
    assert [send(tight, caller, n).status_code for n in range(3)] == [200] * 3
    answer = send(tight, caller, 3)
    assert answer.status_code == 429
    assert answer.json()["error"]["code"] == "too-many"
    assert "3 photographs within a day" in answer.json()["error"]["problem"]
    assert "stay on the device" in answer.json()["error"]["remedy"]
    assert DAY - 60 < int(answer.headers["retry-after"]) <= DAY + 1
    assert send(tight, tight.caller(tight.one, "owner"), 3).status_code == 200
    assert send(tight, tight.caller(tight.other, "surveyor"), 3).status_code == 200


def test_what_is_here_already_is_not_counted(tight):
    """Sending again what was kept, as after a lost answer or a restore, costs nothing."""
    caller = tight.caller(tight.one, "surveyor")
    for _ in range(5):
        assert send(tight, caller, 1).status_code == 200
    assert [send(tight, caller, n).status_code for n in (2, 3, 4)] == [200, 200, 429]
    assert send(tight, caller, 1).status_code == 200


def test_what_is_refused_is_not_counted(tight):
    """Neither what is no photograph nor what was too much takes from the day's share."""
    caller = tight.caller(tight.one, "surveyor")
    for _ in range(5):
        path = f"/api/photos/{hashlib.sha256(b'x').hexdigest()}"
        assert tight.ask("PUT", path, caller, content=b"x").status_code == 415
    assert [send(tight, caller, n).status_code for n in range(3)] == [200] * 3


def test_bytes_are_counted_too(database):
    """Few but large ones come to the same end; what did not fit leaves room for a smaller one."""
    quotas = Quotas(database, Quota(person_gb=0.01))
    quotas.take(ANN, 6_000_000, NOW)
    with pytest.raises(TooManyError, match=r"0\.01 GB of photographs"):
        quotas.take(ANN, 6_000_000, NOW)
    quotas.take(ANN, 4_000_000, NOW)
    with pytest.raises(TooManyError):
        quotas.take(ANN, 1, NOW)
    quotas.take(BEN, 6_000_000, NOW)


def test_the_next_day_begins_anew(database):
    """A day after the first of them, the share is whole again."""
    quotas = Quotas(database, Quota(photographs=2))
    quotas.take(ANN, 1000, NOW)
    quotas.take(ANN, 1000, NOW + timedelta(hours=20))
    late = NOW + timedelta(hours=23)
    with pytest.raises(TooManyError) as told:
        quotas.take(ANN, 1000, late)
    assert told.value.wait == 3601
    quotas.take(ANN, 1000, late + timedelta(seconds=3601))


def test_a_firm_has_its_room(database, tmp_path, monkeypatch):
    """What would be more than its gigabytes answers 507 with what to do; others go on."""
    settings = Settings(ADDRESS, folder=tmp_path, quota=Quota(firm_gb=1e-7))
    with made(database, tmp_path, settings) as world:
        caller = world.caller(world.one, "surveyor")
        assert send(world, caller, 1).status_code == 200
        answer = send(world, caller, 2)
        assert (answer.status_code, answer.json()["error"]["code"]) == (507, "no-room")
        assert "ask whoever runs the server" in answer.json()["error"]["remedy"]
        assert send(world, world.caller(world.other, "surveyor"), 2).status_code == 200


def test_a_firms_room_is_added_up_again(database, monkeypatch):
    """What came by other ways is seen after some minutes; between, additions are counted."""
    now, found = [0.0], [500]
    quotas = Quotas(database, Quota(firm_gb=1e-6))
    monkeypatch.setattr("levelbook.firm.quotas.time.monotonic", lambda: now[0])
    monkeypatch.setattr(quotas, "_added_up", lambda _: found[0])
    quotas.take(ANN, 400, NOW)
    with pytest.raises(NoRoomError):
        quotas.take(ANN, 200, NOW)
    now[0], found[0] = RENEWED, 100
    quotas.take(ANN, 200, NOW)


def test_ones_own_machine_has_no_quota(tmp_path):
    """Without accounts nothing is counted."""
    from levelbook.app.server import make_app

    app = make_app(tmp_path)
    desks = [r.endpoint.__self__.desk for r in app.routes if r.path == "/api/photos/{sha256}"]
    assert desks
    assert all(isinstance(desk.photos, Photos) and desk.photos.quotas is None for desk in desks)


@pytest.mark.parametrize("text", ["2000,5,1000", "1, 0.5, 10.25", "2000000,2000,9999999"])
def test_a_quota_is_read(text):
    """Three numbers above 0, as the option takes them."""
    assert check_quota(text) == tuple(float(part) for part in text.split(","))


@pytest.mark.parametrize(
    "text",
    ["", "2000", "2000,5", "2000,5,1000,1", "0,5,1000", "2000,0,1000", "2000,5,0", "a,b,c",
     "-1,5,9", "2000.5,5,9", "1e3,5,9", "9000000,5,9", "2000,5000,9", "٣,5,9"],
)  # fmt: skip
def test_what_is_no_quota_is_refused(text):
    """With what to give in its place."""
    with pytest.raises(UsageError, match="2000,5,1000"):
        check_quota(text)
