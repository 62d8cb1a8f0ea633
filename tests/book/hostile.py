"""Hostile documents, and a child process that reads one under limits of time and memory.

Run as a script it takes names of cases, reads each in a fork of its own that may use two
seconds of processor time and 300 MB, and prints what came of it as JSON. The forks share the
imports, which a command pays once.
"""

import json
import os
import resource
import sys
from collections.abc import Callable
from pathlib import Path

from book_example import house

MEGABYTE = 1_000_000
SECONDS = 2
MEMORY = 300 * MEGABYTE

CASES: dict[str, Callable[[], bytes | str]] = {}


def case(make: Callable[[], bytes | str]) -> Callable[[], bytes | str]:
    """Enter a maker of a hostile text under its name."""
    CASES[make.__name__] = make
    return make


def with_extra(text: str) -> str:
    """Return the example with a text spliced in as its own data."""
    whole = json.dumps({**house(), "extra": 0})
    return whole.removesuffix("0}") + text + "}"


def filled(piece: str, size: int = 9_900_000) -> str:
    """Return a list of as many pieces as fit a size."""
    return "[" + ",".join([piece] * (size // (len(piece) + 1))) + "]"


def changed(**parts: object) -> str:
    """Return the example with some parts replaced."""
    return json.dumps({**house(), **parts})


@case
def too_large() -> str:
    return " " * (10 * MEGABYTE + 1)


@case
def too_large_once_encoded() -> str:
    return '"' + "é" * (6 * MEGABYTE) + '"'


@case
def empty() -> bytes:
    return b""


@case
def only_spaces() -> str:
    return " " * (10 * MEGABYTE)


@case
def no_text() -> bytes:
    return bytes(range(256)) * 30_000


@case
def broken_utf8() -> bytes:
    return json.dumps(house()).encode()[:-2] + b"\xff\xfe}"


@case
def utf16() -> bytes:
    return json.dumps(house()).encode("utf-16")


@case
def utf16_without_mark() -> bytes:
    return json.dumps(house()).encode("utf-16-le")


@case
def zeros() -> bytes:
    return bytes(10 * MEGABYTE)


@case
def lone_surrogates_in_text() -> str:
    return json.dumps(house()).replace("Oak", "\ud800")


@case
def lone_surrogates_escaped() -> str:
    return with_extra(filled('"\\ud800"', 3_500_000))


@case
def deep_lists() -> str:
    return with_extra("[" * (5 * MEGABYTE - 10_000) + "]" * (5 * MEGABYTE - 10_000))


@case
def deep_lists_left_open() -> str:
    return "[" * (10 * MEGABYTE)


@case
def deep_objects() -> str:
    return '{"a":' * (2 * MEGABYTE)


@case
def deep_after_a_quote() -> str:
    return '{"a": "\\\\\\"", "b": ' + "[" * (9 * MEGABYTE)


@case
def many_empty_lists() -> str:
    return with_extra(filled("[]"))


@case
def many_small_objects() -> str:
    return with_extra(filled('{"a":1}'))


@case
def many_numbers() -> str:
    return with_extra(filled("1"))


@case
def many_strings() -> str:
    return with_extra(filled('"ab"'))


@case
def as_many_objects_as_allowed() -> str:
    return with_extra(filled('{"a":1}', 149_000 * 8)) + ","


@case
def as_many_unknown_keys_as_allowed() -> str:
    return "{" + ",".join(f'"k{i}":{i}' for i in range(395_000)) + "}"


@case
def one_key_again_and_again() -> str:
    return "{" + ",".join(['"format":"levelbook/1"'] * 400_000) + "}"


@case
def every_key_twice() -> str:
    return with_extra("{" + ",".join(f'"k{i}":1,"k{i}":1' for i in range(197_000)) + "}")


@case
def one_long_text() -> str:
    return changed(property={"label": "a" * (9 * MEGABYTE)})


@case
def one_long_text_of_wide_characters() -> str:
    return json.dumps(changed(property={"label": "😀" * (2 * MEGABYTE)}), ensure_ascii=False)


@case
def all_quotes() -> str:
    return '"' * (10 * MEGABYTE)


@case
def all_backslashes() -> str:
    return '"' + "\\" * (9 * MEGABYTE)


@case
def all_commas() -> str:
    return "[" + "," * (9 * MEGABYTE)


@case
def gigantic_whole_number() -> str:
    return with_extra("1" + "0" * 5_000)


@case
def nine_million_digits() -> str:
    return with_extra("9" * (9 * MEGABYTE))


@case
def nine_million_decimals() -> str:
    return with_extra("0." + "7" * (9 * MEGABYTE))


@case
def huge_exponent() -> str:
    return json.dumps(house()).replace("[19, 14]", "[1e999, -1e99999999]")


@case
def not_numbers() -> str:
    return json.dumps(house()).replace("[19, 14]", "[NaN, -Infinity]")


@case
def infinity_everywhere() -> str:
    return with_extra(filled("Infinity", 395_000 * 9))


@case
def a_list() -> str:
    return "[]"


@case
def a_number() -> str:
    return "1e3"


@case
def null() -> str:
    return "null"


@case
def another_format() -> str:
    return changed(format="levelbook/" + "9" * MEGABYTE)


@case
def all_parts_null() -> str:
    return json.dumps(dict.fromkeys(house()) | {"format": "levelbook/1"})


@case
def all_parts_objects() -> str:
    return json.dumps({key: {"a": {"b": []}} for key in house()} | {"format": "levelbook/1"})


@case
def too_many_stations() -> str:
    return changed(stations=[{"id": str(i), "at": [1, 1], "area": "house"} for i in range(5_001)])


@case
def too_many_readings() -> str:
    return changed(readings=[0] * 20_001)


@case
def too_many_corners() -> str:
    return changed(
        areas=[{"id": "house", "kind": "living", "outline": [[i, i * i] for i in range(201)]}]
    )


@case
def readings_of_nothing() -> str:
    return changed(readings=[{}] * 20_000)


@case
def readings_of_unknown_keys() -> str:
    return changed(readings=[{f"k{i}": 1 for i in range(20)}] * 20_000)


@case
def references_to_nothing() -> str:
    stations = [{"id": f"{i:064}", "at": [1, 1], "area": "house"} for i in range(5_000)]
    readings = [
        {"id": f"r{i}", "setup": f"S{i}", "station": f"{i:063}x", "finish": f"f{i}", "value": "1"}
        for i in range(20_000)
    ]
    return changed(stations=stations, readings=readings)


@case
def one_id_for_all() -> str:
    readings = [{"id": "r", "setup": "A", "station": "c", "finish": "tile", "value": "1"}]
    return changed(readings=readings * 20_000)


@case
def a_circle_of_struck_readings() -> str:
    reading = {"setup": "A", "station": "c", "finish": "tile", "value": "1", "struck": True}
    readings = [{**reading, "id": str(i), "instead": str((i + 1) % 20_000)} for i in range(20_000)]
    return changed(readings=readings)


def comb(teeth: int, shift: float = 0.0) -> list[list[float]]:
    """Return an outline of many corners that crosses itself at nearly every side."""
    return [[(k * 7919) % 997 + shift, (k * 104_729) % 991] for k in range(teeth)]


@case
def outlines_that_cross_themselves() -> str:
    areas = [{"id": str(k), "kind": "other", "outline": comb(200, k)} for k in range(200)]
    return changed(areas=areas)


@case
def holes_that_overlap() -> str:
    square = [[0, 0], [900, 0], [900, 900], [0, 900]]
    holes = [[[k, k], [k + 800, k], [k + 800, k + 800], [k, k + 800]] for k in range(1, 51)]
    areas = [{"id": str(k), "kind": "other", "outline": square, "holes": holes} for k in range(200)]
    return changed(areas=areas)


@case
def stations_outside_their_area() -> str:
    stations = [{"id": str(i), "at": [-1e6, i], "area": "house"} for i in range(5_000)]
    return changed(stations=stations)


@case
def stations_round_a_ragged_area() -> str:
    ring = [[100 + 90 * (k % 2) + k / 9, k] for k in range(199)] + [[0, 100]]
    holes = [[[5 + j, 100 + j / 9], [5.5 + j, 100 + j / 9], [5 + j, 100.2]] for j in range(50)]
    stations = [{"id": str(i), "at": [i / 20, 100 - i / 60], "area": "house"} for i in range(5_000)]
    area = {"id": "house", "kind": "living", "outline": ring, "holes": holes}
    return changed(areas=[area] * 60, stations=stations)


@case
def areas_of_no_size() -> str:
    lines = [[[0, 0], [1, 1], [2, 2]], [[3, 3]] * 200, [], [[0, 0]], [[0, 0], [1e-9, 0], [0, 1e-9]]]
    return changed(
        areas=[{"id": str(k), "kind": "other", "outline": o} for k, o in enumerate(lines)]
    )


@case
def values_of_all_kinds() -> str:
    kinds = [True, None, [], {}, "", "x" * 65, "1/0", "1e5", "--1", "∞", "9" * 60, 1e300, 5e-324]
    reading = {"setup": "A", "station": "c", "finish": "tile"}
    return changed(readings=[{**reading, "id": str(i), "value": v} for i, v in enumerate(kinds)])


@case
def keys_that_break_messages() -> str:
    return changed(**{"\u202e\n\x1b[31m" + "k" * 5_000: 1, "a.b[0]": 2, "": 3})


def attempt(name: str) -> dict:
    """Read one case in this process; return the kind of error and its first faults."""
    from levelbook.book import read_book
    from levelbook.errors import DocumentError

    try:
        read_book(CASES[name]())
    except DocumentError as error:
        told = str(error)
        codes = [fault.code for fault in error.faults]
        return {"end": "told", "length": len(told), "codes": codes[:9], "head": told[:400]}
    except BaseException as error:  # noqa: BLE001 - any other end is what the test looks for
        return {"end": type(error).__name__, "head": str(error)[:400]}
    return {"end": "read"}


def in_fork(name: str) -> dict:
    """Read one case in a fork under limits; return what came of it and what it cost."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        before = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        resource.setrlimit(resource.RLIMIT_AS, (before + MEMORY, before + MEMORY))
        os.write(write_end, json.dumps(attempt(name)).encode())
        os._exit(0)
    os.close(write_end)
    with os.fdopen(read_end, "rb") as pipe:
        result = json.loads(pipe.read() or b'{"end": "killed"}')
    _, _, usage = os.wait4(child, 0)
    cost = {"seconds": usage.ru_utime + usage.ru_stime, "megabytes": usage.ru_maxrss / 1000}
    return {**result, **cost}


if __name__ == "__main__":
    import levelbook.book  # noqa: F401 - imported once, before the forks

    print(json.dumps({name: in_fork(name) for name in sys.argv[1:] or CASES}))  # noqa: T201
