"""The JSON Schema of ``levelbook/1``, made from the model.

It tells the form of a document. What a schema cannot say (that ids resolve, that an outline
does not cross itself, …) is checked by :func:`levelbook.book.read_book`.
"""

from typing import Any

from levelbook.book import limits
from levelbook.book.model import Book

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a level-book document."""
    made = Book.model_json_schema()
    _tidy(made)
    definitions = made["$defs"]
    _bound(made["properties"], "", definitions)
    return {
        "$schema": _DIALECT,
        "$id": "urn:levelbook:schema:levelbook-1",
        "title": "Level-book document levelbook/1",
        **{key: made[key] for key in sorted(made) if key != "title"},
    }


def _tidy(node: object) -> None:
    """Remove the titles that repeat the names of keys, and line breaks in descriptions."""
    if isinstance(node, dict):
        if isinstance(node.get("title"), str):
            del node["title"]
        if isinstance(node.get("description"), str):
            node["description"] = " ".join(node["description"].split())
        for value in node.values():
            _tidy(value)
    elif isinstance(node, list):
        for value in node:
            _tidy(value)


def _bound(properties: dict[str, Any], path: str, definitions: dict[str, Any]) -> None:
    """Write the limits of lists into the schema, key by key."""
    for key, node in properties.items():
        name = f"{path}.{key}" if path else key
        for option in node.get("anyOf", [node]):
            _bound_list(option, name, definitions)


def _bound_list(node: dict[str, Any], name: str, definitions: dict[str, Any]) -> None:
    """Write the limit of one list, and of the lists in it."""
    if node.get("type") != "array" or "items" not in node:
        return
    node["maxItems"] = limits.ENTRIES.get(name, limits.OTHER_ENTRIES)
    if name in ("areas.outline", "areas.holes[]"):
        node["minItems"] = 3
    items = node["items"]
    if "$ref" in items:
        entry = definitions[items["$ref"].rpartition("/")[2]]
        _bound(entry["properties"], name, definitions)
    else:
        _bound_list(items, f"{name}[]", definitions)
