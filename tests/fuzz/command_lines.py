"""Command lines as nobody should type them: good ones with values, words and files that do not belong there.

What a command may be given is read from the command line itself, so that a new option is tried without being named
here; a new command needs a good line (`GOOD`), which a test asks for.
"""

from __future__ import annotations

import random
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer.main
from PIL import Image

from nestplan.cli.app import build_app
from nestplan.model.files import write_job
from tests.fuzz.nasty_values import TEXTS, nasty_number_text
from tests.fuzz.seeds import seeds_of
from tests.small_jobs import laced_job
from tests.tasks.small_rack import small_rack

__all__ = ["GOOD", "Parameter", "commands", "mutated_line", "write_workshop"]

GOOD: dict[str, tuple[str, ...]] = {
    "plan": (
        "plan small.job.json barley.hide.json --passes 0 --out new",
        "plan small.job.json . --seconds 0.1 --out new --json",
    ),
    "check": ("check out/plan.json",),
    "demo": ("demo old --seconds 0.1",),
    "trace": (
        "trace drawing.svg --out new.hide.json --units mm",
        "trace photo.png --out new.hide.json --two-points 10,10,90,10 --apart '500 mm'",
        "trace photo.png --out new.hide.json --marks",
    ),
    "marks": ("marks --out marks.pdf",),
    "retrace": (
        "retrace barley.hide.json photo.png --out new.hide.json --two-points 10,10,90,10 --apart '500 mm'",
    ),
    "pieces": (
        "pieces drawing.csv --out new.job.json --units mm --sets 2",
        "pieces drawing.svg --out new.job.json --layers layers.csv",
        "pieces photo.png --out new.job.json --two-points 10,10,90,10 --apart 500mm",
    ),
    "layers": ("layers drawing.svg", "layers drawing.dxf --out new.csv"),
    "measure": (
        "measure 'cow side' --out new.hide.json --length 2m --width 0.5:900mm",
        "measure shoulder --out new.hide.json --area '12 ft2'",
    ),
    "row": (
        "row laced.job.json",
        "row laced.job.json back new --from 0,0 --to 200,0 --inset 6 --pitch 12 --kind punch --size 3 --out new.json",
        "row laced.job.json back 'left edge' --number 7 --replace",
    ),
    "lacing": (
        "lacing laced.job.json",
        "lacing laced.job.json before --gap 20 --path ladder --replace",
        "lacing laced.job.json over --row 'front/front edge' --closed 5 --count 2 --out new.json",
    ),
    "sizes": ("sizes small.job.json --size L=+20 --takes thing=3 --out new.json",),
    "rack": ("rack .", "rack . --json --leather 'cow side' --area-from 1dm2 --units in"),
    "cut": (
        "cut out/plan.json",
        "cut out/plan.json --undo",
        "cut out/plan.json --really-used 'barley=1 dm2'",
    ),
    "mark-area": ("mark-area barley.hide.json '22 ft2'",),
    "compare": (
        "compare small.job.json barley.hide.json rye.hide.json",
        "compare small.job.json . --cheapest --tries 3 --json",
    ),
    "count": (
        "count barley.hide.json --strap '200 x 40 mm'",
        "count small.job.json . --json",
        "count small.job.json barley.hide.json --ratio thing=1",
    ),
    "buy": (
        "buy small.job.json --kind 'cow side' --trials 3",
        "buy small.job.json --kind 'cow side' --area '20 ft2' --price 9 --trials 3 --json",
    ),
    "supplies": ("supplies laced.job.json", "supplies small.job.json --plan out/plan.json --json"),
    "sheet": ("sheet out/plan.json --out new", "sheet out/plan.json --out new --paper a3 --class 3"),
    "picture": ("picture out/plan.json --out new.png", "picture out/plan.json --out new.svg --look print"),
    "fit panels": ("fit panels 34in --shares 1,2 --joins 2 --gap 1in",),
    "fit range": ("fit range 10in,12in --widest 2in --closed 1in --joins 2",),
    "fit sizes": ("fit sizes 70cm,80cm,90cm --panels 2 --widest 50",),
    "fit belt": ("fit belt 34in --by waist --width 40 --holes 5",),
    "fit lace": ("fit lace --pairs 8 --pitch 10 --gap 20 --inset 8 --thickness 3",),
    "fit edge": ("fit edge 600 --stitch whip --pitch 6 --inset 4",),
    "fit grade": ("fit grade small.job.json square --free 10:90 --change 5 --out new.json",),
}
"""Lines that work, or are refused for their files alone, by command; run in a copy of the workshop. The window opens
whatever it is given, and has tests of its own."""

_FOREIGN = ("desk",)

FILES = (
    "",
    ".",
    "/",
    "..",
    "-",
    "--",
    "missing",
    "missing/deep/file.json",
    "small.job.json/inside",
    "small.job.json",
    "laced.job.json",
    "barley.hide.json",
    "out",
    "out/plan.json",
    "drawing.svg",
    "drawing.dxf",
    "drawing.csv",
    "layers.csv",
    "photo.png",
    "empty",
    "empty.json",
    "noise.bin",
    "folder.hide.json",
    "folder.png",
    "loop",
    "loop/x",
    "dangling.json",
    "pipe",
    "/dev/null",
    "/dev/zero",
    "/dev/full",
    "/proc/self/mem",
    "/proc/self/environ",
    "~",
    "~nobody/x",
    "x" * 255,
    "x" * 256 + ".hide.json",
    "漢" * 90 + ".job.json",
    "d/" * 2500 + "x",
    "two\nlines.hide.json",
    "\x1b[31mred.json",
    "\u202egnp.json",
    "\udcff\udcfe.json",
    "NEW.HIDE.JSON",
    "BARLEY.hide.json",
    "http://127.0.0.1:9/x.json",
    "*.json",
    "con",
    "-out",
    "@small.job.json",
)
"""Names of files that are not what a command asks for."""

NUMBERS = (
    "nan",
    "inf",
    "-inf",
    "1e308",
    "-1e308",
    "1e-320",
    "0",
    "-0",
    "-1",
    "0.5",
    "1,5",
    "٣",
    "１２",
    "²",
    "0x10",
    "1_000",
    "1e3",
    "+5",
    " 7 ",
    "7.0",
    "999999999",
    "2147483648",
    "9223372036854775808",
    "1" + "0" * 30,
    "9" * 5000,
    "1" + "0" * 400,
    "",
    "true",
    "None",
    "1/0",
    "1;2",
)
"""What a number's place may be given."""

SECONDS = ("nan", "-1", "-inf", "0", "-0", "1e-320", "0.01", "", "x", "٣", "0x1", "1_0", "0,1")
"""What seconds may be given."""

WORDS = (
    *(text for text in TEXTS if "\0" not in text),
    "=",
    "a=",
    "=1",
    "a=b=c",
    "thing=",
    "thing=nan",
    "thing=-1",
    "thing=1e308",
    "thing=99999999999",
    "square",
    "thing",
    "barley",
    "barley=",
    "barley=1e999 m2",
    "0,0",
    "1,2,3,4",
    "nan,nan",
    "1e308,1e308,0,0",
    "0,0,0,0",
    "5:5",
    "9:1",
    "nan:inf",
    "1e308:1e308",
    "0:0",
    ":",
    ",",
    ",,,,",
    "/",
    "0 mm",
    "-1 mm",
    "1e308 mm",
    "1e-320 in",
    "99999999 m",
    "1 ft2",
    "0 m2",
    "1e300 ft2",
    "1-2-3 oz",
    "9-1 oz",
    "1x1",
    "1 x 1 x 1",
    "200 x 0",
    "1e9 x 1e9 mm",
    "a4",
    "letter",
    "cow side",
    "outer=",
    "outer = cow side, 5 oz",
    "outer = , -3 mm",
    "tcp://127.0.0.1:9",
    "tls://",
    "tcp://127.0.0.1:99999999",
    "--out",
    "--help",
    "(",
    "[red]x[/red]",
    "%s%n%d",
    "{0}",
    "$(touch planted)",
    "`touch planted`",
    "; touch planted",
)
"""What a word's place may be given."""


@dataclass(frozen=True)
class Parameter:
    """An option or an argument of a command: `sign` such as `--out` (none for an argument), and what it takes."""

    sign: str
    takes: str
    several: bool


def commands() -> dict[str, tuple[Parameter, ...]]:
    """What each command may be given, but for those that open the window."""
    found: dict[str, tuple[Parameter, ...]] = {}
    waiting: list[tuple[str, Any]] = [("", typer.main.get_command(build_app()))]
    while waiting:
        name, command = waiting.pop()
        for under, each in getattr(command, "commands", {}).items():
            waiting.append((f"{name} {under}".strip(), each))
        if not getattr(command, "commands", None) and name not in _FOREIGN:
            found[name] = tuple(_parameter(each) for each in command.params)
    return dict(sorted(found.items()))


def _parameter(given: Any) -> Parameter:
    # Versions of the library tell the type of a value in other places.
    told = getattr(given, "type_descriptor", None)
    kind = str(told.annotation if told is not None else given.type).lower()
    takes = "file" if "path" in kind else "number" if "int" in kind or "float" in kind else "word"
    is_option = given.param_type_name == "option"
    if is_option and ("bool" in kind or getattr(given, "is_flag", False)):
        takes = "nothing"
    return Parameter(given.opts[0] if is_option else "", takes, given.multiple or given.nargs == -1)


def mutated_line(name: str, parameters: tuple[Parameter, ...], chance: random.Random) -> list[str]:
    """The words of a command line that is good but for one to three changes."""
    words = shlex.split(chance.choice(GOOD[name]))
    head = len(name.split())
    line, rest = words[:head], words[head:]
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        _CHANGES[chance.randrange(len(_CHANGES))](rest, parameters, chance)
    return [*line, *rest]


def _value(takes: str, chance: random.Random) -> str:
    if chance.random() < 0.06:
        takes = chance.choice(("file", "number", "word"))
    if takes == "file":
        return chance.choice(FILES)
    if takes == "number":
        return chance.choice(NUMBERS) if chance.random() < 0.8 else nasty_number_text(chance)
    word = chance.choice(WORDS if chance.random() < 0.7 else NUMBERS)
    return word if chance.random() < 0.9 else chance.choice((word + " mm", word + " in", f"{word},{word}"))


def _set_option(rest: list[str], parameters: tuple[Parameter, ...], chance: random.Random) -> None:
    """An option with a nasty value: in place of the one that is there, or added."""
    options = [each for each in parameters if each.sign]
    if not options:
        return
    option = chance.choice(options)
    if option.takes == "nothing":
        rest.append(option.sign)
        return
    # More seconds than a test has are no nasty value: whoever asks for them gets them.
    value = chance.choice(SECONDS) if option.sign == "--seconds" else _value(option.takes, chance)
    if option.sign in rest[:-1]:
        rest[rest.index(option.sign) + 1] = value
    elif chance.random() < 0.5:
        rest.append(f"{option.sign}={value}")
    else:
        rest += [option.sign, value]


def _set_argument(rest: list[str], parameters: tuple[Parameter, ...], chance: random.Random) -> None:
    places = list(_argument_places(rest))
    arguments = [each for each in parameters if not each.sign]
    if places and arguments:
        at = chance.randrange(len(places))
        rest[places[at]] = _value(arguments[min(at, len(arguments) - 1)].takes, chance)


def _add_argument(rest: list[str], parameters: tuple[Parameter, ...], chance: random.Random) -> None:
    arguments = [each for each in parameters if not each.sign]
    takes = arguments[-1].takes if arguments else "word"
    rest[0:0] = [_value(takes, chance) for _ in range(chance.choice((1, 1, 2, 40)))]


def _drop(rest: list[str], parameters: tuple[Parameter, ...], chance: random.Random) -> None:
    if rest:
        del rest[chance.randrange(len(rest))]


def _repeat(rest: list[str], parameters: tuple[Parameter, ...], chance: random.Random) -> None:
    if rest:
        at = chance.randrange(len(rest))
        rest[at:at] = rest[at : at + chance.choice((1, 2))] * chance.choice((1, 1, 30))


def _unknown(rest: list[str], parameters: tuple[Parameter, ...], chance: random.Random) -> None:
    rest.insert(
        chance.randint(0, len(rest)),
        chance.choice(("--unknown", "-x", "--ou", "--out=", "-", "--", "---", "-1")),
    )


def _argument_places(rest: list[str]) -> Iterator[int]:
    for at, word in enumerate(rest):
        if not word.startswith("--") and not (at and rest[at - 1].startswith("--")):
            yield at


_CHANGES = (
    _set_option,
    _set_option,
    _set_option,
    _set_option,
    _set_argument,
    _set_argument,
    _add_argument,
    _drop,
)
_CHANGES += (_repeat, _unknown)


def write_workshop(folder: Path) -> None:
    """The files that lines name: a rack with jobs and a plan, drawings, a photograph, and things in the way."""
    small_rack(folder)
    write_job(folder / "laced.job.json", laced_job())
    (folder / "drawing.svg").write_bytes(seeds_of("svg")[0])
    (folder / "drawing.dxf").write_bytes(seeds_of("dxf")[0])
    (folder / "drawing.csv").write_bytes(seeds_of("csv")[0])
    (folder / "layers.csv").write_bytes(seeds_of("layers")[0])
    Image.new("RGB", (120, 100), "brown").save(folder / "photo.png")
    (folder / "empty").touch()
    (folder / "empty.json").touch()
    (folder / "noise.bin").write_bytes(bytes(range(256)) * 9)
    (folder / "folder.hide.json").mkdir()
    (folder / "folder.png").mkdir()
    (folder / "old").mkdir()
    (folder / "loop").symlink_to("loop")
    (folder / "dangling.json").symlink_to("nowhere/at/all.json")
