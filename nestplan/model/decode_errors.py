"""What is wrong in a file and how to mend it, in words, from what the reading library says of it.

Faults of content are found and worded by the records themselves.
"""

from __future__ import annotations

import difflib
import re
from typing import Any

import msgspec

from nestplan.model.values import schema_of_value

__all__ = ["explain_decode_error"]

_KINDS = {
    "array": "a list [ … ]",
    "object": "an object { … }",
    "str": "a text",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "null": "null",
}
_EXPECTED = re.compile(
    r"Expected `([^`]+)`(?: of length (>= |<= )?(\d+))?(?: (>=|<=|>|<) (\S+))?(?:, got `?(\w+)`?)?"
)


def explain_decode_error(text: str, place: str, document: type[Any]) -> tuple[str, str]:
    """What is wrong and how to mend it, for the library's `text` about the key path `place` of a `document`."""
    unknown = re.search(r"unknown field `([^`]*)`", text)
    if unknown:
        return f"There is no key '{unknown[1]}' here.", _mend_of_key(unknown[1], place, document)
    missing = re.search(r"missing required field `([^`]*)`", text)
    if missing:
        return f"The key '{missing[1]}' is missing.", "Add the key."
    wrong = re.search(r"Invalid enum value (.*)", text)
    if wrong:
        words = _words_allowed(document, re.sub(r"\[\d+\]$", "", place).rpartition(".")[2])
        return f"{wrong[1]} is none of the words allowed here.", (
            f"Use one of: {', '.join(words)}." if words else "Use a word that resources/schema lists."
        )
    expected = _EXPECTED.match(text)
    if expected is None:
        return f"{text}.".replace("..", "."), "Correct the value."
    return _of_kind(expected, place), _mend(expected, place)


def _mend_of_key(key: str, place: str, document: type[Any]) -> str:
    """What to do about a key that may not stand at a place: the key that was meant there, or where this one belongs."""
    schema = _schema(document)
    here = _properties(_at_place(schema, place))
    below = [name for name, inner in here.items() if key in _properties(_inner(inner, schema))]
    if below:
        return f"It belongs in '{below[0]}'."
    near = difflib.get_close_matches(key, sorted(here), n=1, cutoff=0.75)
    if near:
        return f"Did you mean '{near[0]}'?"
    if not here:
        return "Take the key out, or check its spelling."
    return f"Take the key out, or use one of: {', '.join(here)}."


def _at_place(schema: dict[str, Any], place: str) -> list[dict[str, Any]]:
    """The schemas that a key path such as `articles[0].pieces[1]` leads to; none where it cannot be followed."""
    found = _resolved(schema, schema)
    for name in re.findall(r"\[[^\]]*\]|[^.\[\]]+", place):
        if name.startswith("["):
            found = [inner for each in found for inner in _items(each, schema)]
        else:
            found = [
                inner
                for each in found
                if isinstance(each.get("properties", {}).get(name), dict)
                for inner in _resolved(each["properties"][name], schema)
            ]
    return found


def _resolved(one: dict[str, Any], schema: dict[str, Any]) -> list[dict[str, Any]]:
    """A schema, or what its reference or its choices lead to."""
    if "$ref" in one:
        return _resolved(schema["$defs"][one["$ref"].rpartition("/")[2]], schema)
    if "anyOf" in one:
        return [inner for each in one["anyOf"] for inner in _resolved(each, schema)]
    return [one]


def _items(one: dict[str, Any], schema: dict[str, Any]) -> list[dict[str, Any]]:
    return [
        inner
        for key in ("items", "additionalProperties")
        if isinstance(one.get(key), dict)
        for inner in _resolved(one[key], schema)
    ]


def _inner(one: dict[str, Any], schema: dict[str, Any]) -> list[dict[str, Any]]:
    """The records that stand in a schema, itself or in its list."""
    found = _resolved(one, schema)
    return found + [inner for each in found for inner in _items(each, schema)]


def _properties(schemas: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """What may stand in records, by the keys."""
    return {key: value for each in schemas for key, value in each.get("properties", {}).items()}


def _of_kind(expected: re.Match[str], place: str) -> str:
    kinds = [part.strip() for part in expected[1].split("|")]
    wanted = " or ".join(_KINDS.get(kind, kind) for kind in kinds if kind != "null" or len(kinds) == 1)
    if expected[3] is not None:
        return _of_length(expected, wanted)
    if expected[4] is not None:
        least = {">=": "at least", ">": "above", "<=": "at most", "<": "below"}[expected[4]]
        return f"{wanted[0].upper()}{wanted[1:]} {least} {expected[5]} is expected here."
    got = f", not {_KINDS.get(expected[6], expected[6])}" if expected[6] else ""
    if expected[6] == "float" and "int" in kinds:
        got = ", not one with a fraction"
    return f"{wanted[0].upper()}{wanted[1:]} is expected here{got}."


def _of_length(expected: re.Match[str], wanted: str) -> str:
    sign, number = (expected[2] or "").strip(), int(expected[3])
    if expected[1].startswith("str"):
        return "The text is empty." if sign == ">=" else f"The text is longer than {number} letters."
    how = {">=": "at least ", "<=": "at most "}.get(sign, "")
    what = "a point [x, y], two numbers," if number == 2 and not sign else f"{wanted} of {how}{number}"
    return f"{what[0].upper()}{what[1:]} is expected here."


def _mend(expected: re.Match[str], place: str) -> str:
    if expected[6] == "str" and re.search(r"\]\[[01]\]$|\bat\[[01]\]$", place):
        return "Write points as plain numbers in mm; units are for lengths such as a width."
    return "Correct the value."


def _schema(document: type[Any]) -> dict[str, Any]:
    made: dict[str, Any] = msgspec.json.schema(document, schema_hook=schema_of_value)
    return made


def _definitions(document: type[Any]) -> dict[str, Any]:
    found: dict[str, Any] = _schema(document).get("$defs", {})
    return found


def _words_allowed(document: type[Any], key: str) -> list[str]:
    """The words a key may have; none where records of the document differ in it."""
    found = {
        tuple(choice["enum"])
        for record in _definitions(document).values()
        for choice in _choices(record.get("properties", {}).get(key, {}))
        if "enum" in choice
    }
    return [str(word) for word in found.pop()] if len(found) == 1 else []


def _choices(schema: dict[str, Any]) -> list[dict[str, Any]]:
    return [schema, *schema.get("anyOf", []), schema.get("items", {})]
