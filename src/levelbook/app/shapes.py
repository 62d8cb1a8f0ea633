"""The shapes of what the API takes and answers, as JSON Schema (2020-12)."""

from collections.abc import Mapping
from typing import Any

from levelbook.firm.roles import ROLES

Schema = Mapping[str, Any]

TEXT: Schema = {"type": "string"}
WHOLE: Schema = {"type": "integer"}
NUMBER: Schema = {"type": "number"}
YES: Schema = {"type": "boolean"}
ANY_OBJECT: Schema = {"type": "object"}


def ref(name: str) -> Schema:
    """Return a reference to a named shape."""
    return {"$ref": f"#/components/schemas/{name}"}


def many(of: Schema, **limits: int) -> Schema:
    """Return a list of things."""
    return {"type": "array", "items": of, **limits}


def text(longest: int, shortest: int = 0, **more: object) -> Schema:
    """Return a text of limited length."""
    return {"type": "string", "minLength": shortest, "maxLength": longest, **more}


def maybe(of: Schema) -> Schema:
    """Return a shape, or null."""
    return {"anyOf": [of, {"type": "null"}]}


def one_of(*words: str) -> Schema:
    """Return one of some words."""
    return {"type": "string", "enum": list(words)}


def thing(optional: Mapping[str, Schema] | None = None, /, **needed: Schema) -> Schema:
    """Return an object with its needed and its optional parts."""
    properties = {**needed, **(optional or {})}
    found: dict[str, Any] = {"type": "object", "properties": properties}
    return found | {"required": list(needed)} if needed else found


ROLE = one_of(*ROLES)
_ENTRY = thing(
    {
        "kind": text(40),
        "of": text(64),
        "fields": {"type": "object", "minProperties": 1},
        "undoes": text(64),
    },
    id=text(64, 8, pattern="^[0-9A-Za-z_-]+$"),
    visit=text(64, 8),
    clock=text(60, pattern="^[0-9]{16}-[0-9a-f]{4}-[a-z0-9]{8,32}$"),
    device=text(32, 8, pattern="^[a-z0-9]+$"),
    author=text(200),
    made=text(200),
    do=one_of("set", "undo"),
)
_FAULT = thing(code=TEXT, place=TEXT, problem=TEXT, remedy=TEXT)
_VISIT = dict.fromkeys(("id", "label", "address", "date", "purpose", "updated"), TEXT)
_PERSON = {"email": TEXT, "created": TEXT, "disabled": maybe(TEXT)}

#: Every named shape.
SHAPES: Mapping[str, Schema] = {
    "Error": thing({"faults": many(ref("Fault")), "draft": ANY_OBJECT}, error=ref("Fault")),
    "Fault": _FAULT,
    "NotReady": thing(ready=YES, checks=ANY_OBJECT, error=ref("Fault")),
    "Ready": thing(ready=YES, checks={"type": "object", "additionalProperties": YES}),
    "Entry": _ENTRY,
    "Sending": thing(
        {
            "since": {"type": "integer", "minimum": 0, "maximum": 2**53 - 1},
            "mark": text(40),
            "entries": many(ref("Entry"), maxItems=5000),
        }
    ),
    "Taken": thing(
        seq=WHOLE,
        mark=TEXT,
        life=TEXT,
        again=YES,
        entries=many(ref("Entry")),
        accepted=many(TEXT),
    ),
    "Visit": thing(**_VISIT, stations=WHOLE, readings=WHOLE),
    "Live": thing(seq=WHOLE, faults=many(ref("Fault")), notices=many(ANY_OBJECT), areas=ANY_OBJECT),
    "Job": thing(
        id=TEXT,
        state=one_of("waiting", "running", "done", "failed"),
        done=WHOLE,
        of=WHOLE,
        step=TEXT,
        problem=TEXT,
    ),
    "Import": thing({"head": ANY_OBJECT, "changes": many(ANY_OBJECT)}, ready=YES),
    "Me": thing(
        person=thing(id=TEXT, name=TEXT, email=TEXT, role=TEXT),
        firm=thing(id=TEXT, name=TEXT),
        csrf=TEXT,
        mode=one_of("own", "firm"),
    ),
    "Person": thing(_PERSON, id=TEXT, name=TEXT, role=ROLE),
    "Passkey": thing(id=TEXT, name=TEXT, created=TEXT, used=maybe(TEXT)),
    "Device": thing(id=TEXT, device=TEXT, created=TEXT, seen=TEXT, current=YES),
    "Change": thing(seq=WHOLE, at=TEXT, what=TEXT, own=YES, by=TEXT, device=TEXT),
    "AuditLine": thing(
        seq=WHOLE, at=TEXT, person=TEXT, action=TEXT, subject=TEXT, detail=ANY_OBJECT, chain=TEXT
    ),
    "ReviewEvent": thing(
        seq=WHOLE, state=TEXT, person=TEXT, at=TEXT, reason=TEXT, release=maybe(TEXT)
    ),
    "Release": thing(id=TEXT, visit=TEXT, number=TEXT, issue=WHOLE, at=TEXT, reason=TEXT),
    "Link": thing(id=TEXT, created=TEXT, expires=TEXT, revoked=maybe(TEXT), views=WHOLE),
    "Instrument": thing(
        id=TEXT,
        name=TEXT,
        serial=TEXT,
        check_days=WHOLE,
        retired=maybe(TEXT),
        checks=many(ANY_OBJECT),
    ),
}
