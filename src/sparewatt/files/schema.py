"""The rig file as a JSON Schema (draft 2020-12), made from the descriptions that the records carry."""

from __future__ import annotations

from typing import Any

from sparewatt.files.values import accepts
from sparewatt.files.walk import fields_of
from sparewatt.parts.records import Rig
from sparewatt.parts.values import HOWS, Spec

__all__ = ["json_schema"]

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """Schema of the plain data that a rig file holds, for editors that check while you type."""
    parts: dict[str, Any] = {}
    top = _record(Rig, parts)
    return {
        "$schema": DIALECT,
        "title": "Rig file",
        "description": "One build of a small generator turned by people. Numbers with a unit are texts.",
        **top,
        "$defs": {
            "number_with_unit": _quantity("string"),
            "plain_number": _quantity("string", "number"),
            **dict(sorted(parts.items())),
        },
    }


def _quantity(*types: str) -> dict[str, Any]:
    value: dict[str, Any] = {"type": types[0]} if len(types) == 1 else {"type": list(types)}
    table = {
        "type": "object",
        "properties": {
            "value": value,
            "spread": {
                "type": ["string", "number"],
                "description": "One standard deviation, in the same unit or in %.",
            },
            "how": {"enum": list(HOWS), "description": "How the number is known."},
            "note": {"type": "string"},
        },
        "required": ["value"],
        "additionalProperties": False,
    }
    return {"anyOf": [value, table]}


def _record(record: type, parts: dict[str, Any]) -> dict[str, Any]:
    specs = fields_of(record)
    needed = [name for name, spec in specs.items() if spec.needed]
    properties = {name: _field(spec, parts) for name, spec in specs.items()}
    schema: dict[str, Any] = {"type": "object", "properties": properties, "additionalProperties": False}
    return {**schema, "required": needed} if needed else schema


def _field(spec: Spec, parts: dict[str, Any]) -> dict[str, Any]:
    about: dict[str, Any] = {
        "description": spec.says if spec.part is not None else f"{spec.says} Takes {accepts(spec)}."
    }
    match spec.kind:
        case "measured":
            return {"$ref": f"#/$defs/{'plain_number' if spec.unit == '1' else 'number_with_unit'}", **about}
        case "choice":
            return {"enum": list(spec.choices), **about}
        case "flag":
            return {"type": "boolean", **about}
        case "count":
            limits = {"minimum": spec.low, "maximum": spec.high}
            return {
                "type": "integer",
                **{key: limit for key, limit in limits.items() if limit is not None},
                **about,
            }
        case "counts":
            return {"type": "array", "items": {"type": "integer", "minimum": 1}, "minItems": 1, **about}
        case "curve":
            pair = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
            return {"type": "array", "items": pair, "minItems": 2, **about}
        case "part" | "parts":
            return {**_link(spec, parts), **about}
        case _:
            return {"type": "string", **({"minLength": 1} if spec.needed else {}), **about}


def _link(spec: Spec, parts: dict[str, Any]) -> dict[str, Any]:
    assert spec.part is not None
    name = spec.part.__name__
    if name not in parts:
        parts[name] = {}
        parts[name] = _record(spec.part, parts)
    link = {"$ref": f"#/$defs/{name}"}
    return (
        link
        if spec.kind == "part"
        else {"type": "array", "items": link, **({"minItems": 1} if spec.needed else {})}
    )
