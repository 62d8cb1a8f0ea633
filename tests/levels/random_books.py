"""Random small books for laws: any pattern of who read what, tied or not."""

from hypothesis import strategies as st
from level_books import instrument, make_book

from levelbook.book.model import Book

SPREADS = st.sampled_from([0.01, 0.05, 0.2])
RESOLUTIONS = st.sampled_from([0.0, 0.1, 0.0625])
VALUES = st.integers(-60, 60).map(lambda tenths: f"{tenths / 10}")


@st.composite
def books(draw: st.DrawFn, timed: bool = False) -> Book:
    """Return a book of 1 to 30 readings; ``timed`` ones have the time of every reading."""
    setups = [f"s{i}" for i in range(draw(st.integers(1, 4)))]
    finishes = [f"f{i}" for i in range(draw(st.integers(1, 4)))]
    stations = [f"p{i}" for i in range(draw(st.integers(1, 9)))]
    instruments = [
        instrument(
            f"L{i}",
            draw(SPREADS),
            draw(RESOLUTIONS),
            higher_reads=draw(st.sampled_from(["more", "less"])),
        )
        for i in range(2)
    ]
    channel = [st.sampled_from(setups), st.sampled_from(stations), st.sampled_from(finishes)]
    rows = draw(st.lists(st.tuples(*channel, VALUES), min_size=1, max_size=30))
    if timed:
        minutes = draw(st.permutations(range(len(rows))))
        rows = [
            (*row, f"2026-03-02T{9 + m * 7 // 60:02}:{m * 7 % 60:02}")
            for row, m in zip(rows, minutes, strict=True)
        ]
    read = sorted({row[1] for row in rows})
    reference = {"station": draw(st.sampled_from(read))}
    if draw(st.booleans()):
        reference["finish"] = draw(st.sampled_from(sorted({row[2] for row in rows})))
    tools = {s: f"L{draw(st.integers(0, 1))}" for s in setups}
    book = make_book(rows, instruments=instruments, setups=tools, reference=reference)
    if draw(st.booleans()):
        struck = draw(st.sets(st.integers(0, len(rows) - 1), max_size=2))
        readings = tuple(
            r.model_copy(update={"struck": i in struck}) for i, r in enumerate(book.readings)
        )
        book = book.model_copy(update={"readings": readings})
    return book
