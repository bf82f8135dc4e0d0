"""Mutations of JSON files that keep them JSON: values, keys, lists and whole branches are changed, moved, repeated."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable
from typing import Any

from tests.fuzz.byte_mutations import damaged_bytes
from tests.fuzz.nasty_values import (
    TEXTS,
    json_text,
    nasty_number,
    nasty_ring,
    nasty_value,
    number_of_copies,
)

__all__ = ["mutated_json", "mutated_json_lines"]

_Place = tuple[Any, Any]
"""A list or object, and an index or key in it."""


def mutated_json(content: bytes, chance: random.Random) -> bytes:
    """The JSON text with one to five mutations of its tree; at times its bytes are damaged besides."""
    holder = [json.loads(content)]
    for _ in range(chance.choice((1, 1, 1, 2, 2, 4))):
        places = _places(holder)
        # The deeper half is where the figures are; the upper half is where the form is.
        place = (
            chance.choice(places) if chance.random() < 0.7 else chance.choice(places[: 1 + len(places) // 8])
        )
        chance.choice(_MUTATIONS)(place, places, chance)
        if not holder:
            holder = [None]
    made = _text(holder[0], chance)
    return damaged_bytes(made, chance, most=2) if chance.random() < 0.1 else made


def mutated_json_lines(content: bytes, chance: random.Random) -> bytes:
    """Lines of JSON, some of them mutated, some twice."""
    good = [line for line in content.splitlines() if line]
    lines = list(good)
    for _ in range(chance.randint(1, 3)):
        number = chance.randrange(len(good))
        lines[number] = mutated_json(good[number], chance)
        if chance.random() < 0.2:
            lines.insert(number, lines[number])
    return chance.choice((b"\n", b"\n", b"\r\n", b"\n\n", b"\r")).join(lines)


def _text(value: Any, chance: random.Random) -> bytes:
    text = json_text(value)
    if chance.random() < 0.02:
        deep = chance.choice((100, 600, 1500, 20_000))
        text = text.replace(chance.choice(("1", '"a"', "[")), "[" * deep, 1)
    if chance.random() < 0.03:
        # A key twice in one object.
        text = text.replace("{", '{"name": 1, "nestplan": 1, ', chance.randint(1, 2))
    if chance.random() < 0.04:
        text = _written_otherwise(text, chance)
    return text.encode("utf-8", "surrogatepass")


def _written_otherwise(text: str, chance: random.Random) -> str:
    """The text as no strict writer leaves it: comments, other quotes, escapes, commas too many, keys without end."""
    return chance.choice(
        (
            lambda: "// by hand\n" + text,
            lambda: text.replace('"', "'"),
            lambda: text.replace("}", ",}", 1),
            lambda: text.replace(
                '"name"', chance.choice(('"\\u006eame"', '"Name"', '"name\\u0000"', "name")), 1
            ),
            lambda: text.replace('": "', '": "\\ud83d', chance.randint(1, 3)),
            lambda: text.replace(": ", ": +", 1),
            lambda: text.replace("0,", "0x0,", 2),
            lambda: text.replace("true", "1").replace("false", "0"),
            lambda: text.replace("{", '{"' + "k" * 100_000 + '": 0, ', 1),
            lambda: text.replace("{", "{" + "".join(f'"k{n}": {n}, ' for n in range(3000)), 1),
            lambda: "\n".join(text[at : at + 3] for at in range(0, min(len(text), 30_000), 3)),
            lambda: f"[{text}]",
            lambda: f'"{text[:50]}"',
        )
    )()


def _places(holder: list[Any]) -> list[_Place]:
    found: list[_Place] = []
    waiting: list[Any] = [holder]
    while waiting:
        node = waiting.pop(0)
        keys = list(range(len(node))) if isinstance(node, list) else list(node)
        # Of a long list of points the first few and the last stand for all.
        for key in keys if len(keys) <= 40 else [*keys[:30], *keys[-5:]]:
            found.append((node, key))
            if isinstance(node[key], list | dict):
                waiting.append(node[key])
    return found


def _is_there(place: _Place) -> bool:
    node, key = place
    return key < len(node) if isinstance(node, list) else key in node


def _replace(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    node[key] = nasty_value(chance)


def _replace_by_its_kind(place: _Place, places: list[_Place], chance: random.Random) -> None:
    """A number in place of a number, a text of a text, a ring of a list."""
    node, key = place
    value = node[key]
    if isinstance(value, bool):
        node[key] = not value
    elif isinstance(value, int | float):
        node[key] = nasty_number(chance)
    elif isinstance(value, str):
        alike = [other[other_key] for other, other_key in places if other_key == key]
        node[key] = chance.choice([*(each for each in alike if isinstance(each, str)), *TEXTS])
    elif isinstance(value, list) and value and isinstance(value[0], list):
        node[key] = [list(point) for point in nasty_ring(chance)]


def _replace_by_ring(place: _Place, places: list[_Place], chance: random.Random) -> None:
    """A ring in place of what is a list already."""
    lists = [each for each in places if isinstance(each[0][each[1]], list)]
    node, key = chance.choice(lists) if lists else place
    node[key] = [list(point) for point in nasty_ring(chance)]


def _delete(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    del node[key]


def _repeat(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    if isinstance(node, list):
        copies = chance.choice((1, 1, 2, 40, 3000))
        size = len(json_text(node[key])) if copies >= 40 else 1
        # Copies of their own: were they one, what is put into it later would count as often.
        node[key:key] = [copy.deepcopy(node[key]) for _ in range(number_of_copies(copies, size))]
    else:
        node[f"{key}2"] = copy.deepcopy(node[key])


def _swap(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    other, other_key = chance.choice(places)
    mine, theirs = copy.deepcopy(node[key]), copy.deepcopy(other[other_key])
    node[key], other[other_key] = theirs, mine


def _take_from_elsewhere(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    other, other_key = chance.choice(places)
    node[key] = copy.deepcopy(other[other_key])


def _rename(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    if isinstance(node, dict):
        keys = [other_key for _, other_key in places if isinstance(other_key, str)]
        node[chance.choice([*keys, *TEXTS])] = node.pop(key)


def _other_number(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    value = node[key]
    if isinstance(value, bool) or not isinstance(value, int | float):
        _replace(place, places, chance)
        return
    change: Callable[[float], float] = chance.choice(
        (
            lambda it: -it,
            lambda it: it * chance.uniform(0.98, 1.02),
            lambda it: it * chance.uniform(0.9, 1.1),
            lambda it: it + chance.uniform(-5, 5),
            lambda it: it * 10.0 ** chance.randint(-12, 12),
            lambda it: it + chance.gauss(0, 100),
            lambda it: it + chance.choice((1e-3, 1e-5, 1e-9)),
            lambda it: float(f"{it:.0e}"),
        )
    )
    node[key] = change(float(value))


def _other_text(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    value = node[key]
    if not isinstance(value, str):
        node[key] = chance.choice(TEXTS)
        return
    words = [other[other_key] for other, other_key in places if isinstance(other[other_key], str)]
    at = chance.randint(0, len(value))
    node[key] = chance.choice(
        (chance.choice(words), value[:at] + chance.choice(TEXTS) + value[at:], value[:at])
    )


def _wrap(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    for _ in range(chance.choice((1, 1, 2, 50))):
        node[key] = [node[key]] if chance.random() < 0.5 else {"name": node[key]}


def _turn_round(place: _Place, places: list[_Place], chance: random.Random) -> None:
    node, key = place
    value = node[key]
    if isinstance(value, list):
        chance.choice((value.reverse, lambda: chance.shuffle(value), lambda: value.sort(key=str)))()
    elif isinstance(value, dict):
        node[key] = list(value.items())


def _add_key(place: _Place, places: list[_Place], chance: random.Random) -> None:
    objects = [node for node, _ in places if isinstance(node, dict)]
    keys = [key for _, key in places if isinstance(key, str)]
    if objects and keys:
        chance.choice(objects)[chance.choice(keys)] = nasty_value(chance)


def _checked(change: Callable[[_Place, list[_Place], random.Random], None]) -> Callable[..., None]:
    def mutation(place: _Place, places: list[_Place], chance: random.Random) -> None:
        if _is_there(place):
            change(place, places, chance)

    return mutation


_MUTATIONS = tuple(
    _checked(change)
    for change in (
        _replace,
        _replace_by_its_kind,
        _replace_by_its_kind,
        _replace_by_its_kind,
        _replace_by_its_kind,
        _replace_by_its_kind,
        _replace_by_ring,
        _delete,
        _repeat,
        _swap,
        _take_from_elsewhere,
        _rename,
        _other_number,
        _other_number,
        _other_number,
        _other_text,
        _wrap,
        _turn_round,
        _add_key,
    )
)
