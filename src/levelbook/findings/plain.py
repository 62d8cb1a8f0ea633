"""Frozen results as plain JSON values."""

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import TypeAlias

import numpy as np

Json: TypeAlias = dict[str, "Json"] | list["Json"] | str | float | bool | None
Table: TypeAlias = dict[str, Json]


def plain(value: object) -> Json:
    """Return records, mappings, sequences, arrays and numbers as JSON values.

    Numbers keep every digit. What is not a finite number becomes ``None``.

    Raises
    ------
    TypeError
        If the value is of a kind that has no place in a result document.
    """
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if isinstance(value, int | float):
        return value if math.isfinite(value) else None
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    return record(value)


def record(value: object, **names: str) -> Table:
    """Return the fields of a record as a table; ``names`` renames them (old name to new).

    Raises
    ------
    TypeError
        If the value is no record.
    """
    if not is_dataclass(value) or isinstance(value, type):
        raise TypeError(f"{type(value).__name__} has no place in a result document")
    table = {f.name: getattr(value, f.name) for f in fields(value)}
    return {names.get(name, name): plain(each) for name, each in table.items()}
