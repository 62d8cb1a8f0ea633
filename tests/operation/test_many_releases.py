"""Many releases at once: each is made, under a number of its own, whoever else waits."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import two_firms

from levelbook.app.routes import take_document
from levelbook.archive.store import Store
from levelbook.firm import releases

MANY = 10


def test_ten_visits_are_released_at_once(world, tmp_path, monkeypatch):
    """No release fails since others took its number, and no number is left out."""
    made: list[releases.Made] = []
    real = releases.make_files

    def slow(book, told, private, photos):
        """Make the files once, and then only take as long as it takes to collide."""
        if not made:
            made.append(real(book, told, private, photos))
        time.sleep(0.05)
        return replace(made[0], files=made[0].files | {"results.json": told.name.encode()})

    monkeypatch.setattr(releases, "make_files", slow)
    store = Store(world.database, world.one.id)
    visits = [take_document(store, two_firms.BOOK.read_bytes()) for _ in range(MANY)]
    owner = world.caller(world.one, "owner")
    for visit in visits:
        asked = {"state": "for review", "reason": ""}
        assert world.ask("POST", f"/api/visits/{visit}/state", owner, json=asked).status_code == 201

    def release(visit: str):
        return world.ask("POST", f"/api/visits/{visit}/release", owner, json={"reason": ""})

    assert release(visits[0]).status_code == 201
    with ThreadPoolExecutor(MANY) as pool:
        answers = list(pool.map(release, visits[1:]))
    assert [answer.status_code for answer in answers] == [201] * (MANY - 1)
    year = answers[0].json()["release"]["number"][:4]
    numbers = sorted(answer.json()["release"]["number"] for answer in answers)
    assert numbers == [f"{year}-{n:04d}" for n in range(2, MANY + 1)]
