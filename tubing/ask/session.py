"""One session: asks, checks, keeps, goes back, shows, and writes the job. It talks through two calls only."""

from __future__ import annotations

import re
import shlex
import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

from tubing.ask import keeping, picture
from tubing.ask.answers import WORDS, printable, sentence
from tubing.ask.draft import job_data
from tubing.ask.judging import checked, proposed, without_file
from tubing.ask.keeping import Kept
from tubing.ask.questions import usable_tubes
from tubing.ask.records import Form, Question
from tubing.ask.taping import is_taped, sureness
from tubing.ask.walk import Walk
from tubing.ask.writing import job_text
from tubing.errors import CheckError, InputError, InterruptError, JobError, OutputError, TubingError
from tubing.inputs.job_file import job_of, read_job
from tubing.inputs.records import Job, Shop
from tubing.inputs.whole_files import put_in_place

BACK, EXPLAIN, PICTURES = "<", "?", "#"
WIDTH = 78
BARE = re.compile(rf"[+-]?[0-9. /-]+( +({'|'.join(WORDS)}))?")  # a length without its unit
WELCOME = (
    "Answer with Enter; Enter alone takes what stands behind 'Enter:'. At any question < goes back one, ? explains it, "
    "# switches the pictures off or on, Ctrl-C stops. Every answer is kept at once."
)


class Talk(Protocol):
    """How the session reaches the fitter."""

    def say(self, text: str) -> None:
        """Show a line, or several."""

    def ask(self, prompt: str, fresh: bool = False) -> str:
        """What is typed behind the prompt. Raises EOFError where there is no more, KeyboardInterrupt.

        ``fresh``: nothing counts that was typed before the prompt was shown.
        """


def ask_job(word: str | None, shop: Shop, talk: Talk, pictures: bool = True) -> Path:
    """Ask for a job and write it; ``word`` is its file, asked for where there is none. Returns where it was written.

    Raises InterruptError when stopped, with what is kept; JobError for a shop with nothing to choose from.
    """
    session = _Session(shop, talk)
    try:
        session.open(word)
        session.kept.pictures = session.kept.pictures and pictures
        return session.run()
    except (EOFError, KeyboardInterrupt) as cause:
        raise session.stopped(
            "the answers ended" if isinstance(cause, EOFError) else "stopped from the keyboard"
        ) from None


def _taken(path: Path) -> JobError:
    return JobError(str(path), "it is there already", "it stays as it is", "give another name")


def _needed(question: Question, default: str | None) -> str:
    """What Enter alone answers. Raises JobError where it answers nothing."""
    if default is None:
        remedy = f"type {question.form.value}, or {EXPLAIN} or {BACK}"
        raise JobError("", "nothing was typed", "this has no default", remedy)
    return default


def _in_full(question: Question, text: str, value: Any) -> str:
    """An answer as it is kept: a choice by its word, lengths with the unit that goes without saying."""
    if question.form is Form.CHOICE:
        return str(value)
    bare = any(BARE.fullmatch(part.strip()) for part in re.split("[,;]", text))
    if question.form is Form.POINT and bare:
        return ", ".join(value)
    return str(value) if question.form is Form.LENGTH and bare else text


class _Session:
    """Where the questions stand. ``kept`` is what the unfinished file holds."""

    def __init__(self, shop: Shop, talk: Talk) -> None:
        tubes = usable_tubes(shop)
        if not tubes:
            raise JobError(
                "shop",
                "no tube in stock lets the rack through",
                "there must be one to plan with",
                "add a [[stock]] of it",
            )
        self.shop, self.talk, self.tube = shop, talk, tubes[0].name
        self.path: Path | None = None
        self.kept = Kept()
        self.told_unsaved = False

    # Files

    def open(self, word: str | None) -> None:
        """Find a file that can be written, and what is kept for it."""
        if word is None:
            word = self.named("What shall the job's file be called? It ends in .toml.")
        while self.path is None:
            try:
                path = keeping.job_path(word)
                kept = self.loaded(path)
                keeping.save(path, kept or self.kept)
            except (InputError, OutputError) as error:
                word = self.named(sentence(error))
            else:
                self.path = path
        if kept is not None:
            self.kept = kept
            self.say(f"{path.name} is not finished: it goes on where it stopped.")
        self.say(WELCOME)

    def loaded(self, path: Path) -> Kept | None:
        """What is kept for a job. Raises JobError where the job is there and nothing is kept."""
        kept = keeping.load(path)
        if kept is None and path.exists():
            raise _taken(path)
        return kept

    def named(self, why: str) -> str:
        """Ask for a file's name."""
        self.say(why)
        return self.talk.ask("file: ")

    def keep(self) -> None:
        """Save the answers; where that fails, say so once and go on, for what was kept before is still there."""
        assert self.path is not None  # opened
        try:
            keeping.save(self.path, self.kept)
        except OutputError as error:
            if not self.told_unsaved:
                self.say(f"This answer is not kept: {sentence(error)}")
            self.told_unsaved = True
        else:
            self.told_unsaved = False

    def stopped(self, how: str) -> InterruptError:
        """What is said when the session stops before its end."""
        if self.path is None:
            return InterruptError("new", how, "nothing was written", "start it again")
        where = keeping.unfinished(self.path)
        found = f"{how}, and the last answers are not kept" if self.told_unsaved else how
        remedy = f"go on with: tubing new {shlex.quote(str(self.path))}"
        return InterruptError("new", found, f"what was answered is in {where}", remedy)

    # Questions

    def run(self) -> Path:
        """Ask until the job is written."""
        walk = self.resumed()
        self.kept.behind = len(walk.values)
        self.show(walk)
        while True:
            stays = self.ask(walk, walk.question) if walk.question is not None else self.finish(walk)
            if isinstance(stays, Path):
                return stays
            if not stays:
                self.kept.behind -= 1
                self.keep()
                walk = Walk(self.shop)
                walk.follow(self.kept.answers, self.kept.behind)

    def resumed(self) -> Walk:
        """A walk along the kept answers, as far as the shop's tables and the job's reader still accept them."""
        walk = Walk(self.shop)
        for _ in range(self.kept.behind):
            question = walk.question
            if question is None or question.key not in self.kept.answers:
                break
            try:
                value = question.value(self.kept.answers[question.key], walk.usual)
                self.checked({**walk.values, question.key: value})
            except InputError:
                break  # it is asked again, and says what is wrong
            walk.step(value)
        return walk

    def ask(self, walk: Walk, question: Question) -> bool:
        """Ask one question until it is answered; false: he goes back."""
        default = proposed(question, walk.values, self.kept.answers)
        if question.form in (Form.CHOICE, Form.NAMES) and not question.choices:
            raise JobError("shop", f"its tables have no {question.label}", "there must be one", "add a row")
        self.pose(question, default)
        while True:
            try:
                text = printable(self.talk.ask(f"{question.label}: "))
                if text == BACK and self.kept.behind:
                    return False
                if text in (BACK, EXPLAIN, PICTURES):
                    self.aside(text, question, walk)
                    continue
                text = text or _needed(question, default)
                value = question.value(text, walk.usual)
                self.checked({**walk.values, question.key: value})
            except InputError as error:
                self.say(sentence(without_file(error, self.path.name if self.path else "")))
            else:
                break
        self.accept(question, text, value)
        walk.step(value)
        if question.shows:
            self.show(walk)
        return True

    def pose(self, question: Question, default: str | None) -> None:
        """Say the question, what there is to choose from, and what Enter alone answers."""
        self.say(f"\n{question.asks}")
        for count, (word, meaning) in enumerate(question.choices, start=1):
            self.say(f"  {count} {word}{': ' if meaning else ''}{meaning}")
        if question.none is not None:
            self.say(f"  {question.none}: leave it out")
        earlier = self.kept.answers.get(question.key)
        if earlier is not None and not question.offers(earlier):
            self.say(f"What was answered before, {earlier!r}, is not on offer here.")
        if default is not None:
            self.say(f"Enter: {default}")

    def aside(self, word: str, question: Question, walk: Walk) -> None:
        """Do what is no answer, and leaves the question where it is."""
        if word == BACK:
            self.say("This is the first question.")
        elif word == EXPLAIN:
            self.say(question.explains or "There is no more to say about it.")
        else:
            self.kept.pictures = not self.kept.pictures
            self.keep()
            self.say(f"Pictures are {'on' if self.kept.pictures else 'off'}.")
            self.show(walk)

    def accept(self, question: Question, text: str, value: Any) -> None:
        """Keep an answer that holds."""
        meant = _in_full(question, text, value)
        if meant != text:
            self.say(f"Taken: {meant}")
            text = meant
        self.kept.answers[question.key] = text
        self.kept.behind += 1
        self.keep()

    def checked(self, values: Mapping[str, Any]) -> Job:
        """The job so far. Raises what is wrong with it."""
        assert self.path is not None  # opened
        return checked(values, self.tube, self.path.name, self.shop)

    # Showing

    def say(self, text: str) -> None:
        """Say sentences, in lines that fit."""
        for line in text.split("\n"):
            indent = "    " if line.startswith("  ") else ""
            kept = textwrap.wrap(line, WIDTH, subsequent_indent=indent, break_on_hyphens=False) or [""]
            self.talk.say("\n".join(kept))

    def show(self, walk: Walk) -> None:
        """What was entered so far: in words, and as pictures unless they are off."""
        values, usual = walk.values, walk.usual
        if "nose" not in values and not is_taped(values, "nose"):
            return
        job = self.checked(values)
        for line in sureness(job):
            self.say(line)
        heading = any(key in values for key in ("nose heading to", "nose heading numbers"))
        boxes = [
            values[f"box {k} name"]
            for k in range(1, values.get("boxes", 0) + 1)
            if f"box {k} hole" in values or is_taped(values, f"box {k}")
        ]
        things = [
            values[f"thing {k} name"]
            for k in range(1, values.get("things", 0) + 1)
            if self.shaped(values, f"thing {k}")
        ]
        marks = picture.marks_of(job, heading, boxes, things)
        self.say("\nSo far:")
        for line in picture.words(marks, usual):
            self.say(f"  {line}")
        if self.kept.pictures:
            self.talk.say("\n".join(picture.pictures(marks, usual)))

    @staticmethod
    def shaped(values: Mapping[str, Any], thing: str) -> bool:
        """Whether all of a thing in the way was said."""
        return f"{thing} radius" in values or (values.get(f"{thing} shape") == "box" and f"{thing} to" in values)

    # The end

    def finish(self, walk: Walk) -> Path | bool:
        """Say whether it can be planned, and write it; false: he goes back."""
        assert self.path is not None  # opened
        job = self.checked(walk.values)
        self.say("\nThat was the last question. A first look at the plan:")
        for name in job.layouts:
            self.say(f"  {name}: {self.verdict(job, name)}")
        self.say(f"Enter writes {self.path.name}; < goes back to change something.")
        while (word := self.talk.ask("write: ", fresh=True).strip()) != BACK:
            if not word:
                return self.write(walk.values)
            self.say("Enter writes it, < goes back.")
        return False

    def verdict(self, job: Job, layout: str) -> str:
        """What the plan of a layout says, in one line."""
        from tubing.plan import plan  # it loads the solver and the graphs, which no question needs

        try:
            planned = plan(job, self.shop, layout)
        except TubingError as error:
            return f"it does not fit as measured. {sentence(error)}"
        bends = sum(len(piece.bends) for piece in planned.pieces)
        return f"it can be planned, with {len(planned.pieces)} tubes and {bends} bends."

    def write(self, values: dict[str, Any]) -> Path:
        """Write the job where no file is, asking for another name as often as needed."""
        assert self.path is not None  # opened
        data = job_data(values, self.tube)
        text, target = job_text(data, values.get("origin") or values["mark 1 name"]), self.path
        job = job_of(data, target.name, self.shop)

        def check(temporary: Path) -> None:
            if read_job(temporary, self.shop) != job:
                raise CheckError("new", "the job reads otherwise than it was answered", "both must agree", "report it")

        while True:
            try:
                if put_in_place(target, text, check):
                    break
                raise _taken(target)
            except (JobError, OutputError) as error:
                target = self.other_path(error)
        keeping.forget(self.path)
        # Not broken into lines: it is there to be copied.
        self.talk.say(f"Written: {target}\nPlan it with: tubing plan {shlex.quote(str(target))}")
        return target

    def other_path(self, error: TubingError) -> Path:
        """Ask for another file until its name will do."""
        while True:
            try:
                return keeping.job_path(self.named(sentence(error)))
            except JobError as again:
                error = again
