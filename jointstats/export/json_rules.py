"""The rules of JSON Schema that the published schema uses, checked without a library for it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

_TYPES: dict[str, Callable[[object], bool]] = {
    "string": lambda value: isinstance(value, str),
    "boolean": lambda value: isinstance(value, bool),
    "integer": lambda value: isinstance(value, int) and not isinstance(value, bool),
    "number": lambda value: isinstance(value, (int, float)) and not isinstance(value, bool),
    "array": lambda value: isinstance(value, list),
    "object": lambda value: isinstance(value, dict),
    "null": lambda value: value is None,
}
_LIMITS: dict[str, Callable[[Any, Any], bool]] = {
    "minimum": lambda value, limit: value >= limit,
    "maximum": lambda value, limit: value <= limit,
    "exclusiveMinimum": lambda value, limit: value > limit,
    "exclusiveMaximum": lambda value, limit: value < limit,
}
_SAID = ("$schema", "title", "description")
#: Every rule that is understood; a schema with another is not checked by half.
KNOWN = {
    *_SAID,
    *_LIMITS,
    *["type", "const", "enum", "pattern", "oneOf", "required", "properties", "additionalProperties", "items", "minItems", "maxItems"],
}


def broken_rules(value: object, rule: Mapping[str, Any], place: str) -> list[str]:
    """What in a value breaks a schema, each fault with its place; nothing where it follows it."""
    if "oneOf" in rule:
        fits = [one for one in rule["oneOf"] if not broken_rules(value, one, place)]
        return [] if len(fits) == 1 else [f"{place} is not of one of the kinds allowed"]
    kinds = rule.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if kinds and not any(_TYPES[kind](value) for kind in kinds):
        return [f"{place} must be {' or '.join(kinds)}"]
    found = _of_value(value, rule, place)
    if isinstance(value, dict):
        found += _of_object(value, rule, place)
    if isinstance(value, list):
        found += _of_array(value, rule, place)
    return found


def _of_value(value: object, rule: Mapping[str, Any], place: str) -> list[str]:
    found = []
    if "const" in rule and value != rule["const"]:
        found.append(f"{place} must be {rule['const']!r}")
    if "enum" in rule and value not in rule["enum"]:
        found.append(f"{place} must be one of {', '.join(map(str, rule['enum']))}")
    if isinstance(value, str) and "pattern" in rule and not re.search(rule["pattern"], value):
        found.append(f"{place} does not match {rule['pattern']}")
    if _TYPES["number"](value):
        broken = [key for key, holds in _LIMITS.items() if key in rule and not holds(value, rule[key])]
        found += [f"{place} breaks {key} {rule[key]:g}" for key in broken]
    return found


def _of_object(value: Mapping[str, Any], rule: Mapping[str, Any], place: str) -> list[str]:
    known = rule.get("properties", {})
    found = [f"{place}.{name} is missing" for name in rule.get("required", []) if name not in value]
    if rule.get("additionalProperties") is False:
        found += [f"{place}.{name} is not known" for name in value if name not in known]
    for name, part in known.items():
        if name in value:
            found += broken_rules(value[name], part, f"{place}.{name}")
    return found


def _of_array(value: list[Any], rule: Mapping[str, Any], place: str) -> list[str]:
    found = []
    if not rule.get("minItems", 0) <= len(value) <= rule.get("maxItems", len(value)):
        found.append(f"{place} has {len(value)} items, which is not as many as it must")
    for place_in, item in enumerate(value):
        found += broken_rules(item, rule.get("items", {}), f"{place}[{place_in}]")
    return found
