"""Mutations of drawings that keep their form: rows of a table, elements of an SVG file, tagged values of a DXF file."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from xml.etree import ElementTree

from tests.fuzz.byte_mutations import damaged_bytes
from tests.fuzz.nasty_values import TEXTS, nasty_number_text, nasty_ring, number_of_copies

__all__ = ["mutated_dxf", "mutated_svg", "mutated_table"]

_NUMBER = re.compile(r"[-+]?\d*\.?\d+(?:[eE][-+]?\d+)?")


def _other_numbers(text: str, chance: random.Random, share: float) -> str:
    return _NUMBER.sub(lambda found: nasty_number_text(chance) if chance.random() < share else found[0], text)


def mutated_table(content: bytes, chance: random.Random) -> bytes:
    """A table (CSV) with other cells, rows, signs between cells, and line ends."""
    rows = [line.split(",") for line in content.decode().splitlines()]
    for _ in range(chance.choice((1, 1, 1, 2, 2, 4))):
        number = chance.randrange(len(rows))
        kind = chance.randrange(8)
        if kind <= 1 and rows[number]:
            rows[number][chance.randrange(len(rows[number]))] = nasty_number_text(chance)
        elif kind == 2 and rows[number]:
            rows[number][chance.randrange(len(rows[number]))] = chance.choice(TEXTS)
        elif kind == 3:
            del rows[number][chance.randint(0, len(rows[number])) :]
        elif kind == 4:
            rows[number].append(chance.choice(("a", "", "outline", '"')))
        elif kind == 5:
            copies = number_of_copies(chance.choice((1, 2, 3000)), sum(map(len, rows[number])))
            rows[number:number] = [list(rows[number])] * copies
        elif kind == 6:
            name = chance.choice(("a", "b", "new"))
            rows[number:number] = [[repr(x), repr(y), name] for x, y in nasty_ring(chance)]
        elif len(rows) > 1:
            del rows[number]
    made = _table_text(rows, chance)
    return damaged_bytes(made, chance, most=2) if chance.random() < 0.15 else made


_CELLS = ('"' + "q" * 9, '"a""b"', "=1+1", "x" * 200_000, '"' + "9" * 140_000 + '"', "\t")


def _table_text(rows: list[list[str]], chance: random.Random) -> bytes:
    """The rows as text, at times with a cell that tables rarely hold, decimal commas, or other signs between cells."""
    if chance.random() < 0.06:
        rows[chance.randrange(len(rows))] = [chance.choice(_CELLS)]
    if chance.random() < 0.05:
        rows = [[cell.replace(".", ",") for cell in row] for row in rows]
    between = chance.choice((";", "\t", " ", "|", ", ")) if chance.random() < 0.15 else ","
    end = chance.choice(("\n", "\n", "\n", "\r\n", "\r", "\n\n", "\x0b", "\u2028"))
    return end.join(between.join(row) for row in rows).encode("utf-8", "surrogatepass")


_PATHS = (
    "M0 0 C {0} {1} {2} {3} {4} {5} Z",
    "M0,0 Q {0},{1} {2},{3} T {4} {5} z",
    "M {0} {1} A {2} {3} {4} 1 0 {5} 9 Z",
    "m0 0h{0}v{1}h{2}z",
    "M0 0 A 0 0 0 0 0 {0} {1} Z",
    "M0 0 L {0} {1} M {2} {3} L {4} {5}",
    "M0 0 10 10 {0}",
    "Z",
    "A",
    "M" + "0 " * 2000,
    "M0 0" + "a5 5 0 0 1 5 5" * 500,
    "M0 0" + "C1 1 2 2 3 3 " * 500 + "z",
)
_TRANSFORMS = (
    "scale({0})",
    "matrix({0} {1} {2} {3} {4} {5})",
    "rotate({0} {1} {2})",
    "skewX({0})",
    "translate({0},{1}) rotate({2})",
    "scale({0}) scale({1}) scale({2})",
    "scale(1e200) scale(1e200)",
    "rotate(1turn)",
    "perspective(3)",
    "matrix(1)",
)
_ATTRIBUTES = [
    "width",
    "height",
    "x",
    "y",
    "rx",
    "ry",
    "r",
    "cx",
    "cy",
    "x1",
    "y1",
    "x2",
    "y2",
    "d",
    "points",
    "transform",
    "id",
    "href",
    "class",
    "style",
    "viewBox",
    "preserveAspectRatio",
    "display",
    "label",
    "{http://www.w3.org/1999/xlink}href",
]
_TAGS = [
    "g",
    "path",
    "rect",
    "circle",
    "ellipse",
    "line",
    "polyline",
    "polygon",
    "use",
    "symbol",
    "svg",
    "defs",
    "text",
    "switch",
    "a",
    "clipPath",
    "marker",
    "image",
    "foreignObject",
]


def mutated_svg(content: bytes, chance: random.Random) -> bytes:
    """An SVG file with other elements, attributes, paths and transforms."""
    root = ElementTree.fromstring(content.decode())
    for _ in range(chance.choice((1, 1, 1, 2, 2, 4))):
        elements = list(root.iter())
        chance.choice(_SVG_MUTATIONS)(elements, chance)
    made = ElementTree.tostring(root, encoding="unicode").encode("utf-8", "surrogatepass")
    kind = chance.randrange(25)
    if kind == 0:
        made = b'<!DOCTYPE svg [<!ENTITY a "b"><!ENTITY c "&a;&a;&a;&a;">]>' + made.replace(b">", b">&c;", 1)
    elif kind == 1:
        made = (
            b'<?xml version="1.0" encoding="'
            + chance.choice((b"utf-16", b"ebcdic", b"x", b"utf-7"))
            + b'"?>'
            + made
        )
    elif kind == 2:
        made = made.decode("utf-8", "replace").encode(chance.choice(("utf-16", "utf-8-sig", "utf-32")))
    elif kind <= 5:
        made = damaged_bytes(made, chance, most=2)
    return made


_BLOCKS = (
    "0 BLOCK 8 0 2 {name} 70 0 10 {0} 20 {1} 3 {name} 0 INSERT 8 0 2 {name} 10 0 20 0 0 ENDBLK",
    "0 BLOCK 8 0 2 {name} 70 0 10 0 20 0 3 {name} 0 INSERT 8 0 2 {other} 10 {0} 20 {1} 41 {2} 70 30 71 30 0 ENDBLK",
    "0 BLOCK 8 0 2 {name} 70 0 10 0 20 0 3 {name} 0 CIRCLE 8 0 10 {0} 20 {1} 40 {2} 0 ENDBLK",
    "0 BLOCK 8 0 2 {name} 70 {3} 10 0 20 0 3 {name} 0 LINE 8 0 10 1 20 1 11 1 21 1 "
    "0 LINE 8 0 10 {0} 20 {1} 11 {0} 21 {1} 0 ENDBLK",
    "0 BLOCK 8 0 2 {name} 70 0 10 0 20 0 3 {name} 0 ATTDEF 8 0 10 0 20 0 40 1 1 {0} 2 A 70 0 0 ENDBLK",
)
"""Blocks of the DXF reference that hold themselves, each other, or shapes without length."""


def _add_blocks(tags: list[list[str]], at: int, chance: random.Random) -> None:
    """A few blocks that lead to each other in a chain or a circle, and their use."""
    names = ["B", *(f"K{number}" for number in range(chance.choice((1, 2, 9, 60))))]
    start = next((place for place, tag in enumerate(tags) if tag == ["2", "BLOCKS"]), None)
    if start is None:
        return
    made: list[list[str]] = []
    for number, name in enumerate(names[1:], start=1):
        other = names[number - 1] if chance.random() < 0.7 else chance.choice(names)
        numbers = [nasty_number_text(chance) for _ in range(4)]
        words = chance.choice(_BLOCKS).format(*numbers, name=name, other=other).split(" ")
        made += [list(pair) for pair in zip(words[::2], words[1::2], strict=False)]
    tags[start + 1 : start + 1] = made
    inside = next((place for place, tag in enumerate(tags) if tag == ["2", "ENTITIES"]), len(tags) - 1)
    tags[inside + 1 : inside + 1] = [["0", "INSERT"], ["8", "0"], ["2", names[-1]], ["10", "0"], ["20", "0"]]


_HEADER = (
    "$ACADVER",
    "$INSUNITS",
    "$MEASUREMENT",
    "$DWGCODEPAGE",
    "$EXTMIN",
    "$HANDSEED",
    "$LTSCALE",
    "$CECOLOR",
)
_VERSIONS = ("AC1009", "AC1015", "AC1032", "AC9999", "AC1.50", "MC0.0", "", "x")


def _other_header(tags: list[list[str]], at: int, chance: random.Random) -> None:
    """Another version, unit or code page, once or several times."""
    start = next((place for place, tag in enumerate(tags) if tag == ["2", "HEADER"]), None)
    if start is None:
        return
    name = chance.choice(_HEADER)
    code = chance.choice(("1", "3", "70", "290", "10", "40"))
    value = chance.choice(
        (chance.choice(_VERSIONS), nasty_number_text(chance), "ANSI_1252", "ANSI_9999", "utf-7", "4", "21")
    )
    tags[start + 1 : start + 1] = [["9", name], [code, value]] * chance.choice((1, 1, 2, 500))


def _extended(tags: list[list[str]], at: int, chance: random.Random) -> None:
    """Groups that applications add, raw bytes, escapes of letters, points in three dimensions."""
    tags[at:at] = chance.choice(
        (
            [["102", "{A"], ["330", "1F"], ["102", "}"]],
            [["102", "{A"]],
            [["1001", "A"], ["1000", "x" * 300], ["1010", "1"], ["1020", "nan"], ["1070", "99999"]],
            [["1002", "{"]] * 300,
            [["310", "FFZZ"], ["310", "F" * 5001]],
            [["1", "\\U+D800\\U+FFFF\\M+1FFFF%%d%%300%%u"]],
            [["8", "\\U+202E\\M+X"]],
            [["30", nasty_number_text(chance)], ["38", nasty_number_text(chance)], ["39", "5"]],
            [["210", "0"], ["220", "0"], ["230", chance.choice(("-1", "0", "1e-300"))]],
            [["5", "1F"], ["5", "1F"], ["330", "0"]],
            [["67", "1"], ["410", "Layout1"]],
        )
    )


def _filled(pattern: str, chance: random.Random) -> str:
    return pattern.format(*(nasty_number_text(chance) for _ in range(6)))


def _set_attribute(elements: list[ElementTree.Element], chance: random.Random) -> None:
    element = chance.choice(elements)
    name = chance.choice([*element.keys(), chance.choice(_ATTRIBUTES)])
    values = (
        nasty_number_text(chance),
        nasty_number_text(chance) + chance.choice(("mm", "%", "px", "furlong", "em")),
        _other_numbers(element.get(name, "1 2 3"), chance, 0.4),
        _filled(chance.choice(_PATHS), chance),
        _filled(chance.choice(_TRANSFORMS), chance),
        "#" + chance.choice([each.get("id", "x") for each in elements]),
        " ".join(f"{x},{y}" for x, y in nasty_ring(chance)),
        chance.choice(("none", "url(#a)", "display:none", "transform:scale(2)", "other.svg#p")),
    )
    element.set(name, chance.choice(values))


def _set_path(elements: list[ElementTree.Element], chance: random.Random) -> None:
    for element in elements:
        if "d" in element.keys() and chance.random() < 0.6:  # noqa: SIM118 - an element is no mapping
            element.set("d", _filled(chance.choice(_PATHS), chance))


def _set_transform(elements: list[ElementTree.Element], chance: random.Random) -> None:
    chance.choice(elements[1:] or elements).set("transform", _filled(chance.choice(_TRANSFORMS), chance))


def _other_tag(elements: list[ElementTree.Element], chance: random.Random) -> None:
    element = chance.choice(elements[1:] or elements)
    element.tag = chance.choice(("{http://www.w3.org/2000/svg}", "")) + chance.choice(_TAGS)


def _add_child(elements: list[ElementTree.Element], chance: random.Random) -> None:
    parent, child = chance.choice(elements), chance.choice(elements)
    if child not in list(parent.iter()) and parent not in list(child.iter()):
        for _ in range(chance.choice((1, 1, 30))):
            parent.append(child)


def _nest(elements: list[ElementTree.Element], chance: random.Random) -> None:
    parent = chance.choice(elements)
    children = list(parent)
    for child in children:
        parent.remove(child)
    inner = parent
    for _ in range(chance.choice((1, 5, 31, 60, 300))):
        inner = ElementTree.SubElement(
            inner, "{http://www.w3.org/2000/svg}" + chance.choice(("g", "g", "a", "svg"))
        )
    inner.extend(children)


def _use_in_use(elements: list[ElementTree.Element], chance: random.Random) -> None:
    """Each group takes the one before it many times over."""
    if chance.random() < 0.85:
        # Each of them takes a second to be refused: what they show is soon seen.
        _use_in_a_circle(elements, chance)
        return
    parent = elements[0]
    many = chance.choice((2, 5, 10))
    for number in range(chance.choice((3, 8, 20))):
        group = ElementTree.SubElement(parent, "{http://www.w3.org/2000/svg}g", {"id": f"u{number}"})
        for _ in range(many):
            target = (
                f"#u{number - 1}"
                if number
                else "#" + chance.choice([each.get("id", "p") for each in elements])
            )
            ElementTree.SubElement(group, "{http://www.w3.org/2000/svg}use", {"href": target})


def _use_in_a_circle(elements: list[ElementTree.Element], chance: random.Random) -> None:
    """Elements that take themselves, each other, or what they stand in."""
    count = chance.choice((1, 2, 3, 40))
    tag = "{http://www.w3.org/2000/svg}" + chance.choice(("use", "g", "symbol"))
    for number in range(count):
        parent = chance.choice(elements)
        parent.set("id", parent.get("id", f"c{number}"))
        holder = ElementTree.SubElement(parent, tag, {"id": f"k{number}"})
        target = chance.choice((parent.get("id", ""), f"k{(number + 1) % count}", f"k{number}"))
        place = chance.choice(("href", "{http://www.w3.org/1999/xlink}href"))
        ElementTree.SubElement(holder, "{http://www.w3.org/2000/svg}use", {place: f"#{target}"})


def _window(elements: list[ElementTree.Element], chance: random.Random) -> None:
    """A window of another size and unit for what is drawn, here or around a part."""
    element = chance.choice((elements[0], chance.choice(elements)))
    if chance.random() < 0.3:
        element.tag = "{http://www.w3.org/2000/svg}" + chance.choice(("svg", "symbol"))
    units = ("", "mm", "%", "px", "in", "em", "e3mm", "MM", " mm")
    for name in ("width", "height"):
        if chance.random() < 0.6:
            element.set(name, nasty_number_text(chance) + chance.choice(units))
    if chance.random() < 0.7:
        element.set(
            "viewBox", _filled(chance.choice(("0 0 {0} {1}", "{0} {1} {2} {3}", "{0},{1}", "")), chance)
        )


def _hide_or_clip(elements: list[ElementTree.Element], chance: random.Random) -> None:
    """Styles that hide, clip or mask, some by what is not there or by themselves."""
    element = chance.choice(elements)
    name = chance.choice(
        ("clip-path", "mask", "display", "visibility", "opacity", "style", "marker-end", "fill")
    )
    there = [each.get("id", "x") for each in elements]
    element.set(
        name,
        chance.choice(
            (
                f"url(#{chance.choice(there)})",
                "none",
                "hidden",
                "inherit",
                "0",
                "display:none;transform:scale(1e308)",
                "a:b;;:;}{",
                "url(data:,x)",
                "url(file:///etc/passwd)",
                "calc(1px/0)",
            )
        ),
    )


def _drop(elements: list[ElementTree.Element], chance: random.Random) -> None:
    parent = chance.choice(elements)
    if len(parent):
        parent.remove(chance.choice(list(parent)))


def _text_inside(elements: list[ElementTree.Element], chance: random.Random) -> None:
    text = chance.choice(TEXTS).encode("utf-8", "replace").decode()
    chance.choice(elements).text = re.sub("[\x00-\x08\x0b\x0c\x0e-\x1f\uffff]", "", text)


_SVG_MUTATIONS: tuple[Callable[[list[ElementTree.Element], random.Random], None], ...] = (
    _set_attribute,
    _set_attribute,
    _set_attribute,
    _set_path,
    _set_transform,
    _other_tag,
    _add_child,
    _nest,
    _use_in_use,
    _window,
    _hide_or_clip,
    _drop,
    _text_inside,
)


_ENTITIES = (
    "0 LINE 8 0 10 {0} 20 {1} 11 {2} 21 {3}",
    "0 CIRCLE 8 outline 10 {0} 20 {1} 40 {2}",
    "0 ARC 8 0 10 {0} 20 {1} 40 {2} 50 {3} 51 {4}",
    "0 ELLIPSE 8 0 10 {0} 20 {1} 11 {2} 21 {3} 40 {4} 41 0 42 {5}",
    "0 SPLINE 8 0 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 {0} 40 1 40 1 40 1 40 1 10 {1} 20 {2} 10 {3} 20 9 10 5 20 {4} "
    "10 {5} 20 0",
    "0 SPLINE 8 0 70 8 71 200 72 3 73 4 40 0 40 1 40 2 10 0 20 0 10 9 20 {0} 10 {1} 20 0 10 1 20 1",
    "0 INSERT 8 0 2 B 10 {0} 20 {1} 41 {2} 42 {3} 50 {4} 70 300 71 300 44 1 45 1",
    "0 INSERT 8 0 2 B 10 0 20 0 70 {0} 71 {1}",
    "0 LWPOLYLINE 8 0 90 3 70 1 10 0 20 0 42 {0} 10 {1} 20 0 42 {2} 10 {3} 20 {4}",
    "0 LWPOLYLINE 8 0 90 {0} 70 1 10 0 20 0 10 9 20 0 10 9 20 9",
    "0 POLYLINE 8 0 66 1 70 {0} 0 VERTEX 8 0 10 {1} 20 {2} 0 VERTEX 8 0 10 9 20 {3} 42 {4} 0 SEQEND",
    "0 POLYLINE 8 0 66 1 70 16 71 {0} 72 {1} 0 VERTEX 8 0 10 1 20 2 0 SEQEND",
    "0 POINT 8 mark 10 {0} 20 {1}",
    "0 TEXT 8 0 10 {0} 20 {1} 40 {2} 1 {3}",
    "0 MTEXT 8 0 10 0 20 0 40 1 1 \\P\\H{0}x;{{\\fArial|b0;x",
    "0 HATCH 8 0 2 SOLID 70 1 71 0 91 1 92 3 72 1 73 1 93 4 10 0 20 0 10 {0} 20 {1} 75 0 76 1 98 0",
    "0 SOLID 8 0 10 {0} 20 0 11 9 21 0 12 {1} 22 9 13 9 23 9",
    "0 DIMENSION 8 0 2 *D1 10 {0} 20 {1} 70 0",
    "0 LINE 8 0 10 0 20 0 11 9 21 9 210 {0} 220 {1} 230 {2}",
    "0 MLINE 8 0 72 2 73 2 10 0 20 0 11 {0} 21 {1}",
    "0 IMAGE 8 0 10 0 20 0",
    "0 ACAD_PROXY_ENTITY 8 0 90 498",
)
"""Entities of the DXF reference, each group code with its value, with places for numbers."""


def mutated_dxf(content: bytes, chance: random.Random) -> bytes:
    """A DXF file with other values and group codes, and with entities added, moved and taken out."""
    if content.startswith(b"AutoCAD Binary DXF"):
        return damaged_bytes(content, chance)
    lines = content.decode("utf-8", "surrogateescape").splitlines()
    tags = [[lines[at].strip(), lines[at + 1]] for at in range(0, len(lines) - 1, 2)]
    inside = next((at for at, tag in enumerate(tags) if tag == ["2", "ENTITIES"]), 0) + 1
    for _ in range(chance.choice((1, 1, 1, 2, 2, 4))):
        # Half of the changes where the shapes are, half anywhere.
        at = chance.randrange(min(inside, len(tags) - 1) if chance.random() < 0.5 else 0, len(tags))
        chance.choice(_DXF_MUTATIONS)(tags, at, chance)
        if chance.random() < 0.4:
            words = _filled(chance.choice(_ENTITIES), chance).split(" ")
            place = min(inside, len(tags))
            tags[place:place] = [list(pair) for pair in zip(words[::2], words[1::2], strict=False)]
    end = chance.choice(("\n", "\n", "\r\n"))
    made = end.join(part for tag in tags for part in tag).encode("utf-8", "surrogateescape")
    return damaged_bytes(made, chance, most=2) if chance.random() < 0.1 else made


def _other_value(tags: list[list[str]], at: int, chance: random.Random) -> None:
    tags[at][1] = nasty_number_text(chance)


def _other_word(tags: list[list[str]], at: int, chance: random.Random) -> None:
    plain = [text for text in TEXTS if "\n" not in text and "\r" not in text and "\ud800" not in text]
    tags[at][1] = chance.choice([*plain, chance.choice(tags)[1]]).encode("utf-8", "replace").decode()


def _other_code(tags: list[list[str]], at: int, chance: random.Random) -> None:
    tags[at][0] = chance.choice(
        (
            "0",
            "2",
            "5",
            "8",
            "10",
            "42",
            "66",
            "70",
            "90",
            "100",
            "102",
            "330",
            "999",
            "1004",
            "-7",
            "x",
            chance.choice(tags)[0],
        )
    )


def _delete_tags(tags: list[list[str]], at: int, chance: random.Random) -> None:
    count = chance.choice((1, 1, 2, 10, 200))
    if len(tags) > count + 2:
        del tags[at : at + count]


def _copy_tags(tags: list[list[str]], at: int, chance: random.Random) -> None:
    other = chance.randrange(len(tags))
    part = tags[other : other + chance.choice((1, 5, 30))]
    tags[at:at] = [list(tag) for _ in range(chance.choice((1, 1, 20))) for tag in part]


def _swap_tags(tags: list[list[str]], at: int, chance: random.Random) -> None:
    other = chance.randrange(len(tags))
    tags[at], tags[other] = tags[other], tags[at]


_DXF_MUTATIONS: tuple[Callable[[list[list[str]], int, random.Random], None], ...] = (
    _other_value,
    _other_value,
    _other_value,
    _other_word,
    _other_code,
    _delete_tags,
    _copy_tags,
    _swap_tags,
    _add_blocks,
    _other_header,
    _extended,
)
