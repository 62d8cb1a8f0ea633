"""Many photographs at once: few are unpacked at a time, whoever sends them."""

import hashlib
import threading
import time

from two_firms import picture

from levelbook.app import photos

MANY, PATIENCE = 9, 30.0


def limiter(world):
    """Return what limits the server's looks at photographs."""
    found = next(r for r in world.app.routes if "PUT" in (r.methods or ()))
    return found.endpoint.__self__.desk.photos.limit


def test_few_photographs_are_unpacked_at_once(world, monkeypatch):
    """Of nine from two firms three are being looked at; the others wait, and all are kept."""
    lock, opened, inside, most = threading.Lock(), threading.Event(), [0], [0]
    real = photos.check

    def held(data: bytes) -> None:
        with lock:
            inside[0] += 1
            most[0] = max(most[0], inside[0])
        assert opened.wait(PATIENCE)
        with lock:
            inside[0] -= 1
        real(data)

    monkeypatch.setattr(photos, "check", held)
    callers = [world.caller(firm, "surveyor") for firm in (world.one, world.other)]
    answers: list[int] = []

    def send(number: int) -> None:
        data = picture(f"#{number:06x}")
        path = f"/api/photos/{hashlib.sha256(data).hexdigest()}"
        answers.append(world.ask("PUT", path, callers[number % 2], content=data).status_code)

    def waiting() -> int:
        return world.client.portal.call(lambda: limiter(world).statistics().tasks_waiting)

    threads = [threading.Thread(target=send, args=(number,)) for number in range(MANY)]
    for thread in threads:
        thread.start()
    until = time.monotonic() + PATIENCE
    while inside[0] + waiting() < MANY and time.monotonic() < until:
        time.sleep(0.005)
    assert (inside[0], waiting()) == (photos.AT_ONCE, MANY - photos.AT_ONCE)
    assert world.ask("GET", "/api/visits", callers[0]).status_code == 200
    opened.set()
    for thread in threads:
        thread.join()
    assert answers == [200] * MANY
    assert most[0] == photos.AT_ONCE
