"""What is wrong in a file and how to mend it, in words, from what the reading library says of it.

Faults of content are found and worded by the records themselves.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
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
        # A key that is right elsewhere in the file is no help here.
        others = sorted(set(_keys(document)) - {unknown[1]})
        near = difflib.get_close_matches(unknown[1], others, n=1, cutoff=0.75)
        mend = f"Did you mean '{near[0]}'?" if near else "Take the key out, or check its spelling."
        return f"There is no key '{unknown[1]}' here.", mend
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


def _definitions(document: type[Any]) -> dict[str, Any]:
    found: dict[str, Any] = msgspec.json.schema(document, schema_hook=schema_of_value).get("$defs", {})
    return found


def _keys(document: type[Any]) -> Iterator[str]:
    for record in _definitions(document).values():
        yield from record.get("properties", {})


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
