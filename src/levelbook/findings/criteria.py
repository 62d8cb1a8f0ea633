"""Criteria and sets of criteria: what a data file may say, and nothing else."""

from typing import Annotated, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    StringConstraints,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from levelbook.book.numbers import parse_value
from levelbook.book.units import METRES, convert
from levelbook.findings.model import Basis, Kind, SetInfo
from levelbook.findings.quantities import FALLS, UNMEASURED, Quantity, units_of

Foundation = Literal["slab-on-ground", "pier-and-beam", "crawl-space", "basement", "other"]
AreaKind = Literal["living", "garage", "addition", "porch", "other"]
Purpose = Literal["baseline", "condition", "repeat"]
LevelUnit = Literal["in", "mm"]
Surface = Literal["soil", "paved", "swale"]

MOST_CRITERIA = 100
LARGEST_LIMIT = 1e6


def _number(value: object) -> object:
    """Accept a number, or a decimal or fraction as text (``"1/360"``)."""
    if isinstance(value, bool):
        raise ValueError("a number is needed, not true or false")
    return float(parse_value(value)) if isinstance(value, str) else value


def _length(value: object) -> object:
    """Read a length with its unit, such as ``"10 ft"`` or ``"2 m"``."""
    if isinstance(value, str):
        number, _, unit = value.strip().rpartition(" ")
        if unit in METRES and number:
            return {"value": float(parse_value(number)), "unit": unit}
        raise ValueError('a length is written with its unit, such as "10 ft" or "2 m"')
    return value


class Strict(BaseModel):
    """Base of everything in a criteria file: frozen, unknown keys and loose types refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)


class Length(Strict):
    """A length and the unit in which its source gives it."""

    value: Annotated[float, Field(gt=0, le=LARGEST_LIMIT)]
    unit: Literal["in", "ft", "mm", "m"]

    def to(self, unit: str) -> float:
        """Return the length in ``in``, ``ft``, ``mm`` or ``m``."""
        return convert(self.value, self.unit, unit)

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}"


Text = Annotated[
    str,
    StringConstraints(
        strip_whitespace=True, min_length=1, max_length=600, pattern=r"^[^\x00-\x1f\x7f]+$"
    ),
]
Identifier = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9.-]{0,63}$")]
Number = Annotated[
    float, BeforeValidator(_number), Field(gt=0, le=LARGEST_LIMIT, allow_inf_nan=False)
]
Limit = Annotated[float, BeforeValidator(_number), Field(le=LARGEST_LIMIT, allow_inf_nan=False)]
Distance = Annotated[Length, BeforeValidator(_length), PlainSerializer(str)]


def _tuple(value: object) -> object:
    return tuple(value) if isinstance(value, list) else value


Many = BeforeValidator(_tuple)


class Applies(Strict):
    """Where a criterion applies; a key left out does not narrow it.

    ``new_house`` asks for a house built at most two years before the visit;
    ``across_over`` and ``across_to`` for an area whose longer side is within them; ``surfaces``
    for ground of these kinds.
    """

    foundation: Annotated[tuple[Foundation, ...], Many] | None = None
    areas: Annotated[tuple[AreaKind, ...], Many] = ("living", "addition", "other")
    purpose: Annotated[tuple[Purpose, ...], Many] | None = None
    new_house: bool = False
    surfaces: Annotated[tuple[Surface, ...], Many] | None = None
    across_over: Distance | None = None
    across_to: Distance | None = None


class Criterion(Strict):
    """One limit on one quantity, with where it comes from and what it asks for.

    ``at_least`` is for falls, which are asked to reach a figure; 0 asks for any fall at all.
    """

    id: Identifier
    title: Text
    quantity: Quantity
    at_least: bool = False
    limit: Limit
    unit: str
    basis: Basis
    source: Text
    secondary: bool = False
    kind: Kind
    needs_distress: Annotated[int, Field(ge=0, le=20)] = 0
    min_apart: Distance | None = None
    steps: Annotated[tuple[Number, ...], Many] = ()
    applies: Applies = Applies()
    note: Text

    @field_validator("limit")
    @classmethod
    def _sane(cls, limit: float, info: ValidationInfo) -> float:
        if limit < 0 or (limit == 0 and not info.data.get("at_least")):
            raise PydanticCustomError("greater_than", "a limit should be greater than 0")
        return limit

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.unit not in units_of(self.quantity):
            raise ValueError(
                f"{self.quantity} is not given in {self.unit[:40]!r}; "
                f"use one of: {', '.join(units_of(self.quantity))}"
            )
        if self.at_least != (self.quantity in FALLS):
            raise ValueError(f"at_least belongs to {' and '.join(FALLS)}, and only there")
        if (self.quantity == "raw slope") != (self.min_apart is not None):
            raise ValueError('min_apart belongs to "raw slope", and only there; add or remove it')
        if self.steps and (self.quantity != "crack width" or self.steps[0] != self.limit):
            raise ValueError("steps belong to a crack width and begin with the limit")
        if any(b <= a for a, b in zip(self.steps, self.steps[1:], strict=False)):
            raise ValueError("steps must rise")
        return self

    @property
    def unmeasured(self) -> str | None:
        """Key of the reason why readings do not give this quantity, ``None`` where they do."""
        return UNMEASURED.get(self.quantity)


class Default(Strict):
    """When the program chooses a set by itself: all keys given must hold.

    ``areas`` asks for an area of one of these kinds, ``grades`` for readings of the ground.
    """

    level_units: Annotated[tuple[LevelUnit, ...], Many]
    new_house: bool = False
    foundation: Annotated[tuple[Foundation, ...], Many] | None = None
    areas: Annotated[tuple[AreaKind, ...], Many] | None = None
    grades: bool = False


class CriteriaSet(Strict):
    """A set of criteria from one source."""

    id: Identifier
    title: Text
    edition: Text
    applies_when: Text
    note: Text
    default: Default | None = None
    criteria: Annotated[tuple[Criterion, ...], Many, Field(min_length=1)]

    @model_validator(mode="before")
    @classmethod
    def _few_enough(cls, data: object) -> object:
        rows = data.get("criteria") if isinstance(data, dict) else None
        if isinstance(rows, list) and len(rows) > MOST_CRITERIA:
            raise ValueError(f"{len(rows)} criteria; at most {MOST_CRITERIA} to a set")
        return data

    @model_validator(mode="after")
    def _unique(self) -> Self:
        ids = [row.id for row in self.criteria]
        twice = sorted({i for i in ids if ids.count(i) > 1})
        if twice:
            raise ValueError(f"criteria share the id {twice[0]!r}; give each its own")
        return self

    @property
    def info(self) -> SetInfo:
        """What a report says about the set."""
        return SetInfo(self.id, self.title, self.edition, self.applies_when, self.note)
