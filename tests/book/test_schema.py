"""The published schema says what the model says."""

import json
from importlib import resources
from typing import Any

import pytest

from levelbook.book import limits, schema
from levelbook.book.model import Book


def test_published_file_is_current() -> None:
    """The file in the package is the schema of the model; ``tools/make_schema.py`` renews it."""
    text = resources.files("levelbook.book").joinpath("levelbook-1.schema.json").read_text("utf-8")
    assert json.loads(text) == schema()


def records() -> dict[str, Any]:
    """Return the schemas of the document and of every object in it, by name."""
    made = schema()
    return {"Book": made, **made["$defs"]}


@pytest.mark.parametrize("name", records())
def test_every_object_is_closed_and_told(name: str) -> None:
    """Each object is described, each of its keys too, and no other key is allowed."""
    record = records()[name]
    assert record["additionalProperties"] is False
    assert record["description"]
    for key, node in record["properties"].items():
        assert node.get("description") or "$ref" in node, key
        assert "title" not in node


def test_keys_of_the_document() -> None:
    """The keys are those of the model, and those without a default are required."""
    made = schema()
    assert set(made["properties"]) == set(Book.model_fields)
    required = {key for key, field in Book.model_fields.items() if field.is_required()}
    assert set(made["required"]) == required


def test_limits_of_lists_are_in_the_schema() -> None:
    """The limits that the reader keeps are those that the schema tells."""
    made = schema()
    assert made["properties"]["stations"]["maxItems"] == limits.STATIONS
    assert made["properties"]["readings"]["maxItems"] == limits.READINGS
    area = made["$defs"]["Area"]["properties"]
    assert area["outline"]["maxItems"] == limits.CORNERS
    assert area["holes"]["items"]["minItems"] == 3
    checks = made["$defs"]["Instrument"]["properties"]["checks"]
    assert checks["maxItems"] == limits.ENTRIES["instruments.checks"]
    line = made["$defs"]["Distress"]["properties"]["line"]["anyOf"][0]
    assert line["maxItems"] == limits.CORNERS


def test_a_reading_may_be_text_or_number() -> None:
    """What the reader takes for a value, the schema allows."""
    value = schema()["$defs"]["Reading"]["properties"]["value"]
    assert value["type"] == ["string", "number"]


def test_each_call_gives_a_schema_of_its_own() -> None:
    """Changing one schema changes no other."""
    schema()["properties"].clear()
    assert schema()["properties"]
