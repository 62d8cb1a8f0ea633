"""Write the TypeScript types of the level-book document from its JSON Schema.

``python tools/make_types.py`` writes ``web/src/document.ts``; a test holds that file to the
schema, so the pages cannot be built against another document than the one that is read.
"""

import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from levelbook.book import schema

TARGET = Path(__file__).resolve().parent.parent / "web" / "src" / "document.ts"
HEAD = """/** The level-book document, written by tools/make_types.py from its JSON Schema.
 * Do not change it here. */

import type { Json } from "./record";
"""
PLAIN = {
    "string": "string",
    "number": "number",
    "integer": "number",
    "boolean": "boolean",
    "null": "null",
    "object": "{ readonly [key: string]: Json }",
}


def types() -> str:
    """Return the module of types: one interface for each object of the schema."""
    made = schema()
    found = {**made["$defs"], "Book": made}
    return HEAD + "".join(f"\n{part}" for name in found for part in _interface(name, found[name]))


def _interface(name: str, node: dict[str, Any]) -> Iterator[str]:
    """Yield the interface of one object."""
    needed = set(node.get("required", ()))
    lines = []
    for key, value in node.get("properties", {}).items():
        if value.get("description"):
            lines.append(f"  /** {value['description']} */")
        mark = "" if key in needed else "?"
        lines.append(f"  readonly {key}{mark}: {_type(value)};")
    told = f"/** {node['description']} */\n" if node.get("description") else ""
    yield f"{told}export interface {name} {{\n" + "\n".join(lines) + "\n}\n"


def _type(node: dict[str, Any]) -> str:
    """Return the type of one value; null is for being absent, as the pages write it."""
    if "$ref" in node:
        return str(node["$ref"].rpartition("/")[2])
    words = node.get("enum", [node["const"]] if "const" in node else [])
    options = node.get("anyOf", [])
    if isinstance(node.get("type"), list):
        options = [{"type": each} for each in node["type"]]
    if words or options:
        return " | ".join([json.dumps(word) for word in words] or _once(map(_type, options)))
    return _list(node) if node["type"] == "array" else PLAIN[node["type"]]


def _once(types: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(types))


def _list(node: dict[str, Any]) -> str:
    """Return the type of a list: of fixed parts, or of as many as there are."""
    if "prefixItems" in node:
        return f"readonly [{', '.join(_type(part) for part in node['prefixItems'])}]"
    inner = _type(node["items"])
    return f"readonly ({inner})[]" if " " in inner else f"readonly {inner}[]"


if __name__ == "__main__":
    TARGET.write_text(types(), encoding="utf-8")
    sys.stdout.write(f"{TARGET.name} is written\n")
