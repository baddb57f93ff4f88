"""TOML to checked sections, and pydantic's complaints to one sentence of ours."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from tubing.errors import InputError, JobError, UnitError
from tubing.inputs.table_rows import read_text

SECTION = TypeVar("SECTION", bound=BaseModel)

NAMED_BY: dict[str, Callable[[dict[str, Any]], object]] = {  # what tells the tables of a list apart
    "wheelbox": lambda table: table.get("name"),
    "in_the_way": lambda table: table.get("name"),
    "tube_between": lambda table: f"{table['from']}-{table['to']}" if {"from", "to"} <= table.keys() else None,
    "arm": lambda table: table.get("on"),
    "cut": lambda table: table.get("piece"),
    "price": lambda table: table.get("item"),
}
LARGEST_WHOLE = 2**63  # TOML's own limit; beyond it Python cannot even print the number
PLACE = re.compile(r"^(?P<what>.*) \((?:at line (?P<line>\d+), column (?P<column>\d+)|at end of document)\)$", re.S)


def shown(value: object) -> str:
    """A value from a file as a message quotes it: short, on one line.

    >>> shown({"from": 1}), shown(True), shown("x" * 99)
    ('a table', 'true', "'xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...'")
    """
    match value:
        case bool():
            return "true" if value else "false"
        case dict():
            return "a table"
        case list():
            return f"a list of {len(value)}"
        case str():
            return repr(value if len(value) <= 60 else value[:60] + "...")
        case _:
            return str(value)


def key_text(key: str) -> str:
    """A key as a message names it: as it stands, unless it is long or would not print.

    >>> key_text("twin"), key_text("a\\nb")
    ('twin', "'a\\\\nb'")
    """
    return key if key.isprintable() and 0 < len(key) <= 60 else shown(key)


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file. Raises InputError; broken TOML is told with line and column."""
    return toml_of(read_text(path), path.name)


def toml_of(text: str, name: str) -> dict[str, Any]:
    """The tables of a TOML text, which messages call by a name. Raises as :func:`read_toml` does."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as cause:
        place = PLACE.match(str(cause))
        what = place["what"] if place else str(cause)
        if place and place["line"]:
            line, column = int(place["line"]), int(place["column"])
        else:  # at the end of the document
            lines = text.split("\n")
            line, column = len(lines), len(lines[-1]) + 1
        raise JobError(
            f"{name}, line {line}, column {column}",
            what[0].lower() + what[1:],
            "it must be TOML, lines of key = value under [sections]",
            "mend that line",
        ) from cause
    except (ValueError, RecursionError) as cause:
        raise JobError(
            name, "it holds a number or a nesting too large to read", "it must be plain TOML", "take it out"
        ) from cause
    _refuse_giants(data, name)
    return data


def _refuse_giants(data: dict[str, Any], file: str) -> None:
    """Raise JobError for a whole number beyond TOML's range. Dotted keys nest deeper than calls may, so no calls."""
    waiting: list[tuple[Any, str]] = [(data, file)]
    while waiting:
        value, thing = waiting.pop()
        if isinstance(value, dict):
            waiting += [(inner, f"{thing}, {key_text(key)}"[:200]) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [(inner, thing) for inner in value]
        elif isinstance(value, int) and abs(value) > LARGEST_WHOLE:
            raise JobError(thing, "the number is absurdly large", "it must be below 2^63", "check the number")


def checked(section: type[SECTION], data: dict[str, Any], file: str) -> SECTION:
    """``data`` as a section. Raises one JobError or UnitError that names the file and the full key."""
    try:
        return section.model_validate(data)
    except ValidationError as cause:
        raise _said(cause, data, file) from None


def _said(cause: ValidationError, data: dict[str, Any], file: str) -> InputError:
    """The first complaint, in our words."""
    complaint = cause.errors(include_url=False)[0]
    thing = ", ".join([file, *place_words(complaint["loc"], data)])
    own = complaint.get("ctx", {}).get("error")
    if isinstance(own, InputError):
        thing = ", ".join(part for part in (thing, own.thing) if part)
        kind = UnitError if isinstance(own, UnitError) else JobError
        return kind(thing, own.found, own.needed, own.remedy)
    found = shown(complaint["input"])
    match complaint["type"]:
        case "list_type" if isinstance(complaint["input"], dict):
            key = complaint["loc"][-1]
            return JobError(
                thing, "it is one table", "it must be a list of tables", f"write [[{key}]] with two brackets"
            )
        case "list_type":
            return JobError(thing, f"{found} is not a list", "it must be a list", "put it in [ ]")
        case "dict_type":
            return JobError(thing, f"{found} is not a table", "it must be a table of keys", "write key = value in { }")
        case "literal_error":
            words = complaint["ctx"]["expected"]
            return JobError(thing, f"{found} is not known", f"it must be {words}", _nearest(complaint["input"], words))
        case "bool_type":
            return JobError(
                thing, f"{found} is not true or false", "it must be true or false", "write it without quotes"
            )
        case _:
            return JobError(
                thing, f"{found} cannot stand here", complaint["msg"].lower(), "look at the example in the README"
            )


def _nearest(word: object, words: str) -> str:
    """Advice on a word that is not among ``words``, which pydantic words "'a', 'b' or 'c'"."""
    choices = re.findall(r"'([^']*)'", words)
    alike = difflib.get_close_matches(str(word)[:100], choices, n=1)
    return f"did you mean '{alike[0]}'?" if alike else "choose one"


def place_words(loc: Sequence[int | str], data: Mapping[str, Any]) -> list[str]:
    """A place in the file as a person says it: ``wheelbox 'near'``, ``hole``.

    Parts that start with @ are our own names for the ways of writing a value, and no keys.
    """
    parts: list[str] = []
    at: Any = data
    for step in loc:
        if isinstance(step, str):
            if step.startswith("@"):
                continue
            parts.append(key_text(step))
        elif parts:
            parts[-1] += " " + item_name(parts[-1], at, step)
        try:
            at = at[step]
        except (KeyError, IndexError, TypeError):
            at = None
    return parts


def item_name(key: str, items: Any, index: int) -> str:
    """How one item of a list is told apart: by its own name where it has one, else by counting from 1."""
    item = items[index] if isinstance(items, list) and index < len(items) else None
    named = NAMED_BY[key](item) if key in NAMED_BY and isinstance(item, dict) else None
    return shown(named) if isinstance(named, str) and named else str(index + 1)
