"""The desk's pages and what changes in them, as HTML."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from tubing.ask.whole_form import WholeForm
from tubing.sheet.records import Lines, Part, Table
from tubing.writers.page import as_drawn, environment, grid_of


def look_fragment(
    said: str,
    settle: Lines,
    changed: Table | Lines | None,
    pictures: Sequence[str],
    turned: Mapping[str, Any],
    parts: Sequence[Part],
) -> str:
    """What the page shows of a plan.

    ``pictures``: SVG, whose texts were escaped when they were drawn. ``turned``: the run as lines in space.
    """
    return (
        environment()
        .get_template("desk_look.html.j2")
        .render(
            said=said,
            settle=settle.lines,
            changed=_shown(changed) if changed is not None else None,
            turned=json.dumps(turned),
            pictures=[as_drawn(picture) for picture in pictures],
            parts=[_shown(part) for part in parts],
        )
    )


def error_fragment(error: str, turned: Mapping[str, Any]) -> str:
    """Why there is no plan, and what was measured as lines in space."""
    return environment().get_template("desk_error.html.j2").render(error=error, turned=json.dumps(turned))


def parts_fragment(said: str, parts: Sequence[Part]) -> str:
    """Tables and lines alone, under one sentence."""
    return environment().get_template("desk_parts.html.j2").render(said=said, parts=[_shown(part) for part in parts])


def shelf_page(title: str, parts: Sequence[Part]) -> str:
    """The shelf as it lies."""
    html = as_drawn(parts_fragment("", parts))
    return environment().get_template("desk_shelf.html.j2").render(title=title, html=html)


def _shown(part: Part) -> dict[str, Any]:
    """A table as a grid, lines as they are."""
    if isinstance(part, Table):
        return {"title": part.title, "grid": grid_of(part, "mm"), "lines": ()}
    return {"title": part.title, "grid": None, "lines": part.lines}


def folder_page(folder: str, jobs: Sequence[tuple[str, str]], *, has_shop: bool) -> str:
    """The list of the folder's jobs: file and title."""
    return environment().get_template("desk_folder.html.j2").render(folder=folder, jobs=jobs, has_shop=has_shop)


def fields_fragment(groups: Sequence[Any]) -> str:
    """The form: groups of fields."""
    return environment().get_template("desk_fields.html.j2").render(groups=groups)


def job_page(
    name: str, text: str, version: str, groups: Sequence[Any], layouts: Sequence[str], *, is_shop: bool = False
) -> str:
    """The page of one job, or of the shop's file."""
    facts: Mapping[str, Any] = {"name": name, "text": text, "version": version, "layouts": layouts, "is_shop": is_shop}
    form = as_drawn(fields_fragment(groups))
    return environment().get_template("desk_job.html.j2").render(form=form, **facts)


def questions_fragment(form: WholeForm) -> str:
    """The questions of a new job as a form."""
    return environment().get_template("desk_questions.html.j2").render(asked=form.asked)


def new_page(form: WholeForm) -> str:
    """The page on which a job is begun."""
    return environment().get_template("desk_new.html.j2").render(form=as_drawn(questions_fragment(form)))


def words_page(title: str, words: str) -> str:
    """A page that only says something."""
    return environment().get_template("desk_words.html.j2").render(title=title, words=words)
