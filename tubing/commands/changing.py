"""The command that changes values of a job at the terminal, number by number."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tubing.commands.asking import Keyboard
from tubing.commands.output import naming_files, path_or_none
from tubing.desk.helps import job_groups, questions_of
from tubing.desk.job_folder import JobOnDisk, job_at
from tubing.desk.job_form import Field, Group, value_of
from tubing.errors import FitError, InputError, InterruptError, TubingError
from tubing.inputs.job_file import job_of
from tubing.inputs.records import Shop
from tubing.inputs.rewriting import with_value
from tubing.inputs.shop_file import read_shop
from tubing.inputs.toml_files import toml_of
from tubing.inputs.whole_files import put_in_place, replace_text
from tubing.plan import plan
from tubing.sheet.words import counted
from tubing.writers.compared import changed_facts, facts
from tubing.writers.plan_data import plan_data


def change_job(word: str, shop_word: str | None) -> None:
    """``change``. Raises what reading raises, OutputError; InterruptError when stopped: then nothing was written."""
    shop, path, talk = read_shop(path_or_none(shop_word)), Path(word), Keyboard()
    found = job_at(path)
    with naming_files(path, path_or_none(shop_word)):
        change = _Change(found, shop, talk)
    try:
        change.run()
        if change.text == found.text:
            talk.say("Nothing was changed.")
            return
        if talk.ask("Enter writes it, < throws it away: ", fresh=True).strip():
            talk.say("Thrown away; the file is as it was.")
            return
    except (EOFError, KeyboardInterrupt):
        raise InterruptError("change", "stopped", "nothing was written", "start it again") from None
    talk.say(f"Written: {path}. The file as it was: {_written(path, found, change.text)}.")


def _written(path: Path, found: JobOnDisk, text: str) -> Path:
    """Write the job, and the file as it was beside it. Raises OutputError."""
    for number in itertools.count(1):
        old = path.with_name(f"{path.stem}.before{'' if number == 1 else f'-{number}'}{path.suffix}.txt")
        if put_in_place(old, found.raw, lambda _: None):
            break
    replace_text(path, found.raw, found.as_it_was_written(text), lambda _: None)
    return old


class _Change:
    """A job while it is changed. ``text``: its file as it would be written."""

    def __init__(self, found: JobOnDisk, shop: Shop, talk: Keyboard) -> None:
        self.name, self.text, self.shop, self.talk = found.name, found.text, shop, talk
        self.asked = questions_of(shop)
        self.facts = self._planned(self.text)

    def run(self) -> None:
        """List the values, and change one after the other until Enter alone."""
        self._list(self._groups())
        while True:
            fields = [field for group in self._groups() for field in group.fields]
            typed = self.talk.ask("number to change, ? with a number explains it, Enter ends: ").strip()
            if not typed:
                return
            number = typed.removeprefix("?").strip()
            if not number.isdecimal() or not 1 <= int(number) <= len(fields):
                self.talk.say(f"{typed}: it is no number of the list; it must be from 1 to {len(fields)}.")
                continue
            field = fields[int(number) - 1]
            if typed.startswith("?"):
                self.talk.say(field.help or "There is no more to say about it.")
            else:
                self._change(field)

    def _groups(self) -> list[Group]:
        return job_groups(toml_of(self.text, self.name), self.asked)

    def _list(self, groups: Sequence[Group]) -> None:
        number = itertools.count(1)
        for group in groups:
            self.talk.say(f"\n{group.title}")
            for field in group.fields:
                self.talk.say(f"{next(number):4} {field.label}: {field.text}")
        self.talk.say("")

    def _change(self, field: Field) -> None:
        """Ask for a value until it does; Enter alone leaves it."""
        old: Any = toml_of(self.text, self.name)
        for step in field.path:
            old = old[step]
        offered = f" ({', '.join(field.choices)})" if field.choices else ""
        while True:
            typed = self.talk.ask(f"{field.label}{offered}, now {field.text}: ").strip()
            if not typed or typed == field.text:
                return
            try:
                text = with_value(self.text, self.name, field.path, value_of(typed, old, field.label))
                job_of(toml_of(text, self.name), self.name, self.shop)
            except InputError as error:
                self.talk.say(f"{error}.")
                continue
            self.text = text
            self._tell()
            return

    def _tell(self) -> None:
        """What the change changed, old beside new."""
        before, self.facts = self.facts, self._planned(self.text)
        if isinstance(self.facts, TubingError):
            self.talk.say(f"It cannot be planned so: {self.facts}.")
            return
        if isinstance(before, TubingError):
            self.talk.say("It can be planned now.")
            return
        rows = changed_facts(before, self.facts)
        self.talk.say(f"{counted(len(rows), 'figure')} changed{':' if rows else '.'}")
        for label, was, is_now in rows:
            self.talk.say(f"  {label}: {was}, now {is_now}")

    def _planned(self, text: str) -> dict[str, str] | FitError:
        """What the plan of a text says. Raises InputError where it is no job."""
        job = job_of(toml_of(text, self.name), self.name, self.shop)
        try:
            return facts(plan_data(plan(job, self.shop)))
        except FitError as error:
            return error
