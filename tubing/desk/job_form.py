"""A job's file as fields of a page, each with its place in the file; and what is typed into one as a value."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct

from tubing.ask import answers
from tubing.errors import InputError, JobError, UnitError
from tubing.inputs.toml_files import item_name, place_words
from tubing.units import Kind, read

Path = tuple[str | int, ...]


class Field(Struct, frozen=True):
    """One value."""

    path: Path
    label: str
    text: str
    thing: str  # as messages name it, without the file
    choices: tuple[str, ...] = ()  # empty: it is typed
    help: str = ""

    @property
    def key(self) -> str:
        """Its place, as the page's script writes it."""
        return json.dumps(self.path, separators=(",", ":"))


class Group(Struct, frozen=True):
    """The fields of one table of the file."""

    title: str
    fields: tuple[Field, ...]


def groups_of(data: Mapping[str, Any], choices: Mapping[str, Sequence[str]], helps: Mapping[str, str]) -> list[Group]:
    """Every value of a job's file, in the file's own order, table by table.

    ``choices``, ``helps``: by key as in ``wheelbox.model``, places in lists left out.
    """

    def fields(path: Path, value: Any, label: str) -> Iterator[Field]:
        if _is_one(value):
            key = ".".join(step for step in path if isinstance(step, str))
            words = tuple(choices.get(key, ()))
            text = text_of(value)
            if isinstance(value, bool):
                words = ("true", "false")
            elif words and (not isinstance(value, str) or text not in words):
                words = ()
            named = (label or str(path[-1])).replace("_", " ")
            yield Field(path, named, text, ", ".join(place_words(path, data)), words, helps.get(key, ""))
            return
        steps = value.items() if isinstance(value, dict) else enumerate(value)
        for step, inner in steps:
            word = str(step).replace("_", " ") if isinstance(step, str) else item_name(str(path[-1]), value, step)
            yield from fields((*path, step), inner, f"{label} {word}".strip())

    plain = {key: value for key, value in data.items() if _is_one(value)}
    found = [Group("job", tuple(field for key, value in plain.items() for field in fields((key,), value, key)))]
    for key, value in data.items():
        if key in plain:
            continue
        if isinstance(value, list) and all(isinstance(each, dict) for each in value):
            for k, table in enumerate(value):
                title = f"{key.replace('_', ' ')} {item_name(key, value, k)}"
                found.append(Group(title, tuple(fields((key, k), table, ""))))
        else:
            found.append(Group(key.replace("_", " "), tuple(fields((key,), value, ""))))
    return [group for group in found if group.fields]


def _is_one(value: Any) -> bool:
    """Whether a value has one field: a scalar, or a list of scalars such as a position."""
    if isinstance(value, list):
        return all(not isinstance(each, list | dict) for each in value)
    return not isinstance(value, dict)


def text_of(value: Any) -> str:
    """A value as it stands in its field.

    >>> text_of(["-250 mm", "0 mm", "0 mm"]), text_of(True), text_of([0.0, 1.0])
    ('-250 mm, 0 mm, 0 mm', 'true', '0.0, 1.0')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return ", ".join(map(text_of, value))
    return str(value)


def value_of(typed: str, old: Any, label: str, usual: str = "mm") -> Any:
    """What was typed into a field as a value of the kind that stood there.

    A position may also be said in words, ``650 mm left, 0 mm back, 35 mm up``. Raises JobError and UnitError.

    >>> value_of("-240 mm, 0 mm, 5 mm", ["-250 mm", "0 mm", "0 mm"], "hole")
    ['-240 mm', '0 mm', '5 mm']
    >>> value_of("0, 1, 0", [0.0, 0.7, 0.7], "heading")
    [0.0, 1.0, 0.0]
    """
    if isinstance(old, bool):
        return typed == "true"
    if isinstance(old, int | float):
        return _number(typed, label, whole=isinstance(old, int))
    if isinstance(old, list):
        if len(old) == 3 and all(map(_is_length, old)):
            return answers.point(typed, usual)
        parts = [part.strip() for part in typed.split(",") if part.strip()]
        if old and all(isinstance(each, int | float) for each in old):
            return [float(_number(part, label, whole=False)) for part in parts]
        return parts
    return typed.strip()


def _is_length(value: object) -> bool:
    try:
        read(value, Kind.LENGTH)
    except UnitError:
        return False
    return True


def _number(typed: str, label: str, *, whole: bool) -> int | float:
    try:
        return int(typed) if whole else float(typed)
    except ValueError:
        kind = "a whole number" if whole else "a plain number"
        raise JobError(label, f"it is {typed[:60]!r}", f"it must be {kind}", "write it without a unit") from None


def told(error: Exception) -> str:
    """An error as the page says it; a file's name stays as it is written."""
    return f"{error}."


def at_fault(error: InputError, groups: Sequence[Group], name: str) -> Path | None:
    """The place of the field that an error is of; None: of none."""
    thing = error.thing.removeprefix(f"{name}, ")
    found = [field for group in groups for field in group.fields if thing == field.thing]
    found = found or [f for group in groups for f in group.fields if thing.startswith(f"{f.thing},")]
    return found[0].path if found else None
