"""The example document as plain JSON, and small documents, for the tests of the book."""

import json
from pathlib import Path
from typing import Any

HOUSE = Path(__file__).parents[1] / "data" / "house-a.json"


def house() -> dict[str, Any]:
    """Return the example document as plain JSON."""
    return json.loads(HOUSE.read_text(encoding="utf-8"))


def put(document: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """Set the value at a path such as ``readings.3.value``, or remove it (``...``)."""
    *above, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    node: Any = document
    for step in above:
        node = node[step]
    if value is ...:
        del node[last]
    elif isinstance(node, list) and last == len(node):
        node.append(value)
    else:
        node[last] = value
    return document
