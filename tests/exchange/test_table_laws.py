"""Laws of tables: however one truth is typed, it comes in as that truth or is asked about."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st
from importing import imported

from levelbook.book.numbers import parse_value
from levelbook.errors import DocumentError
from levelbook.exchange.incoming import plan_import
from levelbook.exchange.questions import ImportPlan, Interview
from levelbook.exchange.tables import decode

ALWAYS = {"date": "2026-03-02", "sense": "less", "sd": "0.05", "outline": "rectangle",
          "column.finish": "none"}  # fmt: skip
MINUS = st.sampled_from(["-", "−", "–"])


@dataclass(frozen=True)
class Typed:
    """A value, and one way to type it."""

    value: Fraction
    cell: str


@st.composite
def typed(draw: st.DrawFn, comma: bool) -> Typed:
    """Return a reading in eighths or hundredths of an inch, typed somehow."""
    sign = draw(st.sampled_from([1, -1]))
    lead = draw(MINUS) if sign < 0 else draw(st.sampled_from(["", "+"]))
    end = draw(st.sampled_from(["", '"', " in", "”", " in."]))
    if draw(st.booleans()):
        whole, top = draw(st.integers(0, 40)), draw(st.integers(1, 7))
        gap = draw(st.sampled_from([" ", "-"])) if whole else ""
        cell = f"{lead}{whole or ''}{gap}{top}/8{end}"
        return Typed(sign * (whole + Fraction(top, 8)), cell)
    cents = draw(st.integers(0, 9999))
    size = f"{cents // 100}.{cents % 100:02}"
    return Typed(
        sign * Fraction(cents, 100), lead + (size.replace(".", ",") if comma else size) + end
    )


@st.composite
def tables(draw: st.DrawFn) -> tuple[bytes, dict[str, Fraction]]:
    """Return a table as bytes and the readings that it tells, in inches."""
    comma = draw(st.booleans())
    separator = ";" if comma else draw(st.sampled_from([",", ";", "\t"]))
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
    ending = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    columns = draw(st.permutations(["point", "x (ft)", "y (ft)", "rod (in)", "remark"]))
    blank = draw(st.integers(0, 2))
    due: dict[str, Fraction] = {}
    lines = [""] * draw(st.integers(0, 2)) + [separator.join(columns)]
    for i in range(draw(st.integers(2, 8))):
        reading = draw(typed(comma))
        due[f"s{i}"] = reading.value
        cell = reading.cell
        if cell.startswith('"') or cell.endswith('"'):
            cell = '"' + cell.replace('"', '""') + '"'
        row = {"point": f"s{i}", "x (ft)": str(3 * i), "y (ft)": str(i % 3), "rod (in)": cell,
               "remark": draw(st.sampled_from(["", "by door", "see note 2"]))}  # fmt: skip
        lines += [separator.join(row[name] for name in columns), *[""] * (blank if i == 1 else 0)]
    return ending.join([*lines, ""]).encode(encoding), due


@settings(max_examples=150)
@given(tables())
def test_one_truth_however_typed(table: tuple[bytes, dict[str, Fraction]]) -> None:
    """Signs, fractions, commas, units, separators, encodings, columns in any order."""
    data, due = table
    plan, asked = imported(data, ALWAYS)
    assert plan.book is not None, plan.questions
    assert {r.station: parse_value(r.value) for r in plan.book.readings} == due
    assert asked <= set(ALWAYS)
    assert plan.left == ()
    assert plan.book.instruments[0].higher_reads == "less"


@settings(max_examples=100)
@given(tables(), st.data())
def test_damaged_tables_give_no_other_number(
    table: tuple[bytes, dict[str, Fraction]], data: st.DataObject
) -> None:
    """With bytes cut out of a table, every reading that is taken stands so in what is left."""
    raw, _ = table
    start = data.draw(st.integers(0, len(raw)))
    cut = raw[:start] + raw[start + data.draw(st.integers(1, 40)) :]
    plan = end_of(lambda: imported(cut, ALWAYS)[0])
    if plan is not None and plan.book is not None:
        text = decode(cut, "cut", Interview())
        ends = ("[,;\t\r\n]", "[;\t\r\n]")
        cells = {digits(cell) for end in ends for cell in re.split(end, text)}
        assert {digits(reading.value) for reading in plan.book.readings} <= cells


def digits(cell: str) -> str:
    """Return the digits of a cell alone."""
    return re.sub(r"\D", "", cell)


def end_of(call: Callable[[], ImportPlan]) -> ImportPlan | None:
    """Return the plan, or nothing where the file is refused with place and remedy."""
    try:
        return call()
    except DocumentError as error:
        refused = error
    assert all(fault.place and fault.remedy for fault in refused.faults)
    return None


@settings(max_examples=150)
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_any_bytes_are_planned_or_refused(data: bytes) -> None:
    """Nothing that is dropped on the import breaks it."""
    plan = end_of(lambda: plan_import(data, "anything"))
    assert plan is None or plan.questions or plan.book
