"""Chunks: every visit once, in order, and the same key only for the same work."""

import hashlib

from hypothesis import given, settings
from hypothesis import strategies as st

from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.plan import chunks, run_key, size_for
from levelbook.archive.evaluation.work import Visit
from levelbook.findings import named_set

IDS = st.lists(st.text("abcdef0123456789", min_size=1, max_size=6), unique=True, max_size=120)


def visit(name: str, content: str = "") -> Visit:
    """Return a visit that nobody will open."""
    return Visit(name, "f", "entries", b"", hashlib.sha256(content.encode()).hexdigest())


@settings(max_examples=60)
@given(IDS, st.integers(1, 30))
def test_every_visit_is_in_one_chunk(names: list[str], size: int) -> None:
    """No visit is lost or doubled, whatever the ids; chunks keep their bounds."""
    found = list(chunks(map(visit, names), "run", size))
    assert [v.id for chunk in found for v in chunk.visits] == names
    assert all(len(chunk.visits) <= 2 * size for chunk in found)
    assert all(len(chunk.visits) >= size // 2 for chunk in found[:-1])
    assert len({chunk.key for chunk in found}) == len(found)


@settings(max_examples=40)
@given(IDS, st.data())
def test_a_key_hangs_on_all_that_goes_in(names: list[str], data: st.DataObject) -> None:
    """A visit that changed changes the key of its own chunk and of no other."""
    plain = list(chunks(map(visit, names), "run", 8))
    assert plain == list(chunks(map(visit, names), "run", 8))
    assert not {c.key for c in plain} & {c.key for c in chunks(map(visit, names), "other", 8)}
    if names:
        changed = data.draw(st.sampled_from(names))
        later = list(chunks((visit(n, "x" if n == changed else "") for n in names), "run", 8))
        differ = [a for a, b in zip(plain, later, strict=True) if a.key != b.key]
        assert [changed in [v.id for v in chunk.visits] for chunk in differ] == [True]


def test_a_visit_added_in_the_middle_leaves_most_chunks() -> None:
    """Chunks end where ids say so: one more visit remakes its neighbourhood alone."""
    names = [f"{k:05}" for k in range(2_000)]
    before = {c.key for c in chunks(map(visit, names), "run", 40)}
    after = [c.key for c in chunks(map(visit, sorted([*names, "00700x"])), "run", 40)]
    assert len([key for key in after if key not in before]) <= 5


def test_small_archives_have_small_chunks() -> None:
    """Several workers have something to do from a few dozen visits on."""
    assert [size_for(n) for n in (0, 499, 500, 4_999, 5_000, 10**6)] == [8, 8, 40, 40, 200, 200]


def test_a_run_is_known_by_its_criteria() -> None:
    """Two sets of criteria never share a chunk's key."""
    runs = {run_key(Criteria()), run_key(Criteria((named_set("bre-251"),)))}
    assert len(runs) == 2


def test_neighbouring_texts_do_not_run_together() -> None:
    """Ids that join to the same text are told apart."""
    one = next(chunks([visit("ab"), visit("c")], "run", 50))
    other = next(chunks([visit("a"), visit("bc")], "run", 50))
    assert one.key != other.key
