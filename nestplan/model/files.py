"""Hide, job and plan as files: read strictly, written whole or not at all.

Every fault in a file becomes one InputError that names the file, the place inside it and the mend."""

from __future__ import annotations

import hashlib
import inspect
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from nestplan.errors import InputError, VersionError
from nestplan.model.decode_errors import explain_decode_error
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.model.goals import GOALS
from nestplan.model.hide import Hide
from nestplan.model.job import MOST_ARTICLES, Job
from nestplan.model.lacing import EDGE_STITCHES, LACE_PATHS
from nestplan.model.mark_kinds import MARK_KINDS
from nestplan.model.plan import Plan
from nestplan.model.point_units import points_in_inches, points_in_mm
from nestplan.model.values import (
    DECIMALS,
    Length,
    Thickness,
    decode_value,
    encode_value,
    need_at_most,
    schema_of_value,
)
from nestplan.storage import read_regular_file, write_atomically

__all__ = [
    "FORMAT_VERSION",
    "content_hash",
    "kind_said_in",
    "read_hide",
    "read_hides",
    "read_job",
    "read_plan",
    "schema",
    "to_text",
    "write_hide",
    "write_job",
    "write_plan",
]

FORMAT_VERSION = 1

MAX_BYTES = 64 * 1024 * 1024
"""A hide or job of this size is no longer a hand-made file; a plan of 10,000 pieces is about 20 MB."""

Document = TypeVar("Document", Hide, Job, Plan)
_REGISTERED_WORDS: dict[str, Callable[[], dict[str, str]]] = {
    "flaw kinds": lambda: {kind.name: kind.words for kind in FLAW_KINDS},
    "goals": lambda: dict.fromkeys(GOALS.names, ""),
    "lace paths": lambda: {path.name: path.words for path in LACE_PATHS},
    "edge stitches": lambda: dict.fromkeys(EDGE_STITCHES.names, ""),
    "mark kinds": lambda: dict.fromkeys(MARK_KINDS.names, ""),
}
"""The words of each registry, as files say them, with what they mean where that is not plain."""
_KINDS: dict[type[Hide] | type[Job] | type[Plan], str] = {Hide: "hide", Job: "job", Plan: "plan"}


class _Parts(msgspec.Struct):
    """What a job has many of, not looked into."""

    articles: list[msgspec.Raw] = []


class _Head(msgspec.Struct):
    nestplan: int | None = None
    kind: str | None = None
    points: Any = None


def read_hide(path: str | os.PathLike[str]) -> Hide:
    """The hide in a `.hide.json` file.

    Raises InputError for a fault in it, VersionError if a newer nestplan wrote it.
    """
    return _read(Path(path), Hide)


def read_hides(paths: list[Path]) -> tuple[Hide, ...]:
    """Several hides, whose names must differ. Raises InputError for a fault in a file or a name that stands twice."""
    hides = tuple(read_hide(path) for path in paths)
    seen: dict[str, Path] = {}
    for hide, path in zip(hides, paths, strict=True):
        if hide.name in seen:
            raise InputError(
                f"The hide's name '{hide.name}' is also in {seen[hide.name]}.",
                file=str(path),
                place="name",
                mend="Give each hide its own name.",
            )
        seen[hide.name] = path
    return hides


def read_job(path: str | os.PathLike[str]) -> Job:
    """The job in a `.job.json` file.

    Raises InputError for a fault in it, VersionError if a newer nestplan wrote it.
    """
    return _read(Path(path), Job)


def read_plan(path: str | os.PathLike[str]) -> Plan:
    """The plan in a `plan.json` file.

    Raises InputError for a fault in it, VersionError if a newer nestplan wrote it.
    """
    return _read(Path(path), Plan)


def write_hide(path: str | os.PathLike[str], hide: Hide) -> None:
    """Write a hide, whole or not at all. Raises InputError if it could not be read again, or cannot be written."""
    _write(Path(path), hide)


def write_job(path: str | os.PathLike[str], job: Job) -> None:
    """Write a job, whole or not at all. Raises InputError if it could not be read again, or cannot be written."""
    _write(Path(path), job)


def write_plan(path: str | os.PathLike[str], plan: Plan) -> None:
    """Write a plan, whole or not at all. Raises InputError if the file cannot be written."""
    write_atomically(path, to_text(plan).encode())


def to_text(document: Hide | Job | Plan) -> str:
    """The document as readable JSON: two spaces a level, a point on one line, lengths to 0.1 µm.

    Raises InputError if a text in it holds half of a letter, which no file can hold.
    """
    try:
        encoded = msgspec.json.encode(_written(document))
    except UnicodeEncodeError as error:
        raise InputError(
            f"A text of '{document.name}' holds half of a letter (\\u{ord(error.object[error.start]):04x}).",
            mend="Write it anew.",
        ) from error
    text = msgspec.json.format(encoded, indent=2).decode()
    return (
        _NUMBERS_ONLY.sub(
            lambda found: re.sub(r"\s+", " ", found[0]).replace("[ ", "[").replace(" ]", "]"), text
        )
        + "\n"
    )


def _write(path: Path, document: Document) -> None:
    """Write what can be read again: records made in code may hold words that no reader takes."""
    content = to_text(document).encode()
    _decoded(content, type(document), path, points=getattr(document, "points", "mm"))
    write_atomically(path, content)


def _written(document: Hide | Job | Plan) -> object:
    """What is written of a document, as plain data."""
    # What a document is and what a plan aims at are said even where they are the usual ones.
    said = {name: getattr(document, name) for name in ("nestplan", "kind", "goal") if hasattr(document, name)}
    written = msgspec.to_builtins(document, enc_hook=encode_value)
    said |= points_in_inches(written) if isinstance(document, Job) and document.points == "in" else written
    return _rounded({name: said[name] for name in document.__struct_fields__ if name in said})


_NUMBERS_ONLY = re.compile(r"\[\s*-?[\d.eE+-]+(?:,\s*-?[\d.eE+-]+)*\s*\]")


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return round(value, DECIMALS)
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return _rounded_points(value) or [
            round(item, DECIMALS) if type(item) is float else item if type(item) is int else _rounded(item)
            for item in value
        ]
    return value


def _rounded_points(values: Sequence[object]) -> list[object]:
    """Points, which are most of what a document holds, rounded at once; nothing where the values are others."""
    try:
        return [[round(x, DECIMALS), round(y, DECIMALS)] for x, y in values]  # type: ignore
    except (TypeError, ValueError):
        return []


def content_hash(document: Hide | Job | Plan) -> str:
    """SHA-256 (hexadecimal) of what the document says: the order of keys and the layout of the file do not
    matter, nor whether a hide is marked as used up, so that a plan can still be opened after its cut is
    booked."""
    if isinstance(document, Hide) and document.used:
        document = msgspec.structs.replace(document, used="")
    # Read back first, so that a record built in code with whole numbers hashes as the one read from its file.
    content = _with_points_in_mm(msgspec.json.encode(_written(document)), getattr(document, "points", "mm"))
    read = msgspec.json.decode(content, type=type(document), dec_hook=decode_value)
    return hashlib.sha256(msgspec.json.encode(_rounded(_without_defaults(read)), order="sorted")).hexdigest()


def _without_defaults(value: object) -> object:
    """A record as plain data without what equals its default, spelled out or left out.

    The encoder leaves out only what is the very default object, so a copy of a record from another process
    would say more than the record.
    """
    if isinstance(value, msgspec.Struct):
        return {
            field.name: _without_defaults(getattr(value, field.name))
            for field in msgspec.structs.fields(value)
            if getattr(value, field.name) != field.default
        }
    if isinstance(value, dict):
        return {key: _without_defaults(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [item if type(item) is float or _is_point(item) else _without_defaults(item) for item in value]
    if isinstance(value, Length | Thickness):
        return float(value)  # "3/16 in" and 4.7625 say the same
    return encode_value(value) if isinstance(value, float) else value


def _is_point(value: object) -> bool:
    return type(value) is tuple and len(value) == 2 and type(value[0]) is float and type(value[1]) is float


def schema(kind: type[Hide] | type[Job] | type[Plan]) -> bytes:
    """JSON Schema (draft 2020-12) of a kind of document, as kept in resources/schema."""
    made = _with_registered_words(msgspec.json.schema(kind, schema_hook=schema_of_value))
    # A file says what it is and in which format: neither is taken for granted when it is read.
    said = made["$defs"][kind.__name__]
    said["required"] = sorted({"nestplan", "kind", *said.get("required", ())})
    for name in ("nestplan", "kind"):
        said["properties"][name].pop("default", None)
    made["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    made["title"] = f"nestplan {_KINDS[kind]}, format {FORMAT_VERSION}"
    return msgspec.json.format(msgspec.json.encode(made, order="sorted"), indent=2) + b"\n"


def _with_registered_words(schema: Any) -> Any:
    """The schema with the names of a registry wherever it says that one of them is wanted."""
    if isinstance(schema, list):
        return [_with_registered_words(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    made = {key: _with_registered_words(value) for key, value in schema.items()}
    if isinstance(made.get("anyOf"), list):
        # Versions of msgspec list the choices in other orders.
        made["anyOf"].sort(key=lambda choice: msgspec.json.encode(choice, order="sorted"))
    if isinstance(made.get("description"), str):
        # Python 3.13 takes the indents out of docstrings, older ones leave them in.
        made["description"] = inspect.cleandoc(made["description"])
    if isinstance(made.get("registry"), str):
        words = _REGISTERED_WORDS[made.pop("registry")]()
        del made["type"]
        made["enum"] = sorted(words)
        if any(words.values()):
            made["description"] = "; ".join(f"{word}: {meaning}" for word, meaning in words.items())
    return made


def kind_said_in(path: str | os.PathLike[str]) -> str | None:
    """The kind that a JSON file says it is of: "" where it says none, None where it is no JSON object."""
    try:
        return msgspec.json.decode(read_regular_file(path, most_bytes=MAX_BYTES), type=_Head).kind or ""
    except (InputError, UnicodeDecodeError, msgspec.DecodeError, RecursionError):
        return None


def _read(path: Path, kind: type[Document]) -> Document:
    content = read_regular_file(
        path,
        most_bytes=MAX_BYTES,
        too_large="Simplify the outlines; a point every few millimetres is enough.",
    )
    wanted = _KINDS[kind]
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise InputError(
            "The file is not UTF-8 text.",
            place=f"byte {error.start}",
            file=str(path),
            mend="Save it as UTF-8 JSON.",
        ) from error
    try:
        head = msgspec.json.decode(content, type=_Head)
    except msgspec.DecodeError as error:
        raise _translated(error, path, content) from error
    except RecursionError as error:
        raise _nested_too_deeply(path) from error
    if head.kind != wanted:
        said = f"it says it is a {head.kind}" if head.kind else "it does not say its kind"
        raise InputError(
            f"This is no nestplan {wanted} file: {said}.",
            file=str(path),
            place="kind",
            mend=f'Give a file with "kind": "{wanted}".',
        )
    if head.nestplan is None or head.nestplan < 1:
        raise InputError(
            "The file does not say which format it has.",
            file=str(path),
            place="nestplan",
            mend=f'Add "nestplan": {FORMAT_VERSION}.',
        )
    if head.nestplan > FORMAT_VERSION:
        raise VersionError(
            f"The file has format {head.nestplan}; this nestplan reads formats up to {FORMAT_VERSION}.",
            file=str(path),
            place="nestplan",
            mend="Read it with a newer nestplan.",
        )
    return _decoded(content, kind, path, points=head.points if kind is Job else "mm")


def _decoded(content: bytes, kind: type[Document], path: Path, *, points: object) -> Document:
    """The document in the text of a file. Raises InputError with the file and the place in it."""
    try:
        if kind is Job:
            _need_few_articles(content)
        content = _with_points_in_mm(content, points)
        return msgspec.json.decode(content, type=kind, dec_hook=decode_value)
    except msgspec.DecodeError as error:
        raise _translated(error, path, content, kind) from error
    except InputError as error:
        raise error.within(file=str(path)) from error
    except RecursionError as error:
        raise _nested_too_deeply(path) from error


def _with_points_in_mm(content: bytes, points: object) -> bytes:
    """The text of a document with its points in mm, where it says that they are in inches."""
    return msgspec.json.encode(points_in_mm(msgspec.json.decode(content))) if points == "in" else content


def _need_few_articles(content: bytes) -> None:
    """Raise InputError for a job of far too many articles, before each of them is looked into."""
    try:
        articles = msgspec.json.decode(content, type=_Parts).articles
    except msgspec.ValidationError:
        return  # told when the job is read
    need_at_most("articles", articles, MOST_ARTICLES)


def _nested_too_deeply(path: Path) -> InputError:
    return InputError("The file is nested too deeply.", file=str(path), mend="Check how it was made.")


def _translated(
    error: msgspec.DecodeError, path: Path, content: bytes, document: type[Document] | type[_Head] = _Head
) -> InputError:
    """The library's error in our words: a fault of form with its line, a fault of content with its key path."""
    text, _, tail = str(error).partition(" - at `")
    place = tail.rstrip("`").removeprefix("$").removeprefix(".")
    if isinstance(error, msgspec.ValidationError):
        inner = error.__cause__
        if isinstance(inner, InputError):
            kind = type(inner)
            return kind(inner.what, mend=inner.mend, place=inner.place).within(place, file=str(path))
        what, mend = explain_decode_error(text, place, document)
        return InputError(what, place=place, file=str(path), mend=mend)
    found = re.search(r"\(byte (\d+)\)", text)
    if found:
        before = content[: int(found[1])]
        line = before.count(b"\n") + 1
        column = len(before) - before.rfind(b"\n")
        return InputError(
            "The file is no valid JSON.",
            place=f"line {line}, column {column}",
            file=str(path),
            mend="Correct the text there; numbers such as NaN or Infinity are not allowed.",
        )
    if "truncated" in text:
        line = content.count(b"\n") + 1
        return InputError(
            "The file breaks off in the middle.",
            place=f"line {line}",
            file=str(path),
            mend="Copy or save it again.",
        )
    return InputError("The file is no valid UTF-8 JSON.", file=str(path), mend="Save it as UTF-8 JSON.")
