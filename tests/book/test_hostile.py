"""Hostile documents end in a clear error, quickly and in little memory."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hostile import CASES, MEGABYTE, MEMORY

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="limits and /proc as on Linux")

#: The code that each case must be told under first, where one is the point of it.
FIRST = {
    "too_large": "too-large",
    "too_large_once_encoded": "too-large",
    "empty": "empty",
    "only_spaces": "empty",
    "broken_utf8": "encoding",
    "utf16": "encoding",
    "utf16_without_mark": "encoding",
    "lone_surrogates_in_text": "encoding",
    "lone_surrogates_escaped": "text",
    "deep_lists": "too-deep",
    "deep_lists_left_open": "too-deep",
    "deep_objects": "too-deep",
    "deep_after_a_quote": "too-deep",
    "many_empty_lists": "too-many",
    "many_small_objects": "too-many",
    "many_numbers": "too-many",
    "many_strings": "too-many",
    "as_many_unknown_keys_as_allowed": "too-many",
    "one_key_again_and_again": "key-twice",
    "every_key_twice": "key-twice",
    "one_long_text": "text",
    "all_quotes": "not-json",
    "gigantic_whole_number": "number",
    "nine_million_digits": "number",
    "huge_exponent": "number",
    "not_numbers": "number",
    "infinity_everywhere": "number",
    "a_list": "wrong-type",
    "null": "wrong-type",
    "another_format": "format",
    "too_many_stations": "too-many",
    "too_many_readings": "too-many",
    "too_many_corners": "too-many",
    "one_id_for_all": "id-twice",
    "keys_that_break_messages": "unknown-key",
}


@pytest.fixture(scope="module")
def ends() -> dict[str, dict]:
    """Read every case in a child process, each in a fork of it under its own limits."""
    script = Path(__file__).with_name("hostile.py")
    single = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, **single},
        capture_output=True,
        check=True,
        timeout=300,
    )
    return json.loads(done.stdout)


@pytest.mark.parametrize("name", CASES)
def test_hostile_document_is_told(name: str, ends: dict[str, dict]) -> None:
    """Each ends in a document error of bearable length, within the limits of its process."""
    end = ends[name]
    assert end["end"] == "told", end
    assert end["length"] < 200 * 300
    assert end["megabytes"] * MEGABYTE < MEMORY
    assert end["codes"][0] == FIRST.get(name, end["codes"][0])


@pytest.mark.parametrize("name", CASES)
def test_messages_hold_nothing_unprintable(name: str, ends: dict[str, dict]) -> None:
    """What the document says is escaped, and the libraries underneath are not quoted."""
    head = ends[name]["head"]
    assert head.replace("\n", "").isprintable()
    assert "pydantic" not in head
    assert "http" not in head
    assert "Expecting" not in head
    assert "Input should" not in head


def test_the_limits_would_be_felt() -> None:
    """A case that takes too much memory or time is seen as such, so the test can fail."""
    script = Path(__file__).with_name("hostile.py")
    code = (
        "import hostile\n"
        "hostile.CASES['greedy'] = lambda: 'x' * (2 * hostile.MEMORY)\n"
        "hostile.CASES['endless'] = lambda: [None for _ in iter(int, 1) if False]\n"
        "import json; print(json.dumps([hostile.in_fork(n) for n in ('greedy', 'endless')]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=script.parent, capture_output=True, check=True, timeout=60
    )
    greedy, endless = json.loads(done.stdout)
    assert greedy["end"] == "MemoryError"
    assert endless["end"] == "killed"
