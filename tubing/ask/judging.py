"""Whether the answers so far can be a job, and what is proposed: the same at the keyboard and on a page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from tubing.ask.draft import job_data
from tubing.ask.records import Question
from tubing.errors import InputError
from tubing.inputs.job_file import job_of
from tubing.inputs.records import Job, Shop
from tubing.run.placing import sides_to_try, with_heading

BOX = re.compile(r"box (?P<count>\d+) (?P<rest>.+)")


def checked(values: Mapping[str, Any], tube: str, name: str, shop: Shop) -> Job:
    """The job so far, judged by the job's own reader and by what the run asks of headings and sides.

    ``tube`` stands in until one is chosen. Raises JobError and UnitError, their things within ``name``.
    """
    job = job_of(job_data(values, tube), name, shop)
    for box in job.mountings.values():
        if box.heading is not None:
            with_heading(box, box.heading, side=1)
    if "motion" in values:
        for names in job.layouts.values():
            sides_to_try([job.mountings[each] for each in names], job.motion)
    return job


def proposed(question: Question, values: Mapping[str, Any], answers: Mapping[str, str]) -> str | None:
    """What is answered if nothing is typed: what was answered before, here or for the wheelbox before this one."""
    earlier = [question.key]
    if question.repeats and (match := BOX.fullmatch(question.key)):
        before = f"box {int(match['count']) - 1} {match['rest']}"
        earlier += [before] if before in values else []
    for key in earlier:
        # What was on offer there need not be on offer here.
        if key in answers and question.offers(answers[key]):
            return answers[key]
    return question.default


def without_file(error: InputError, name: str) -> InputError:
    """The same error without the file's name, which goes without saying where one is asked."""
    thing = error.thing.removeprefix(name).lstrip(", ")
    return type(error)(thing, error.found, error.needed, error.remedy)
