"""The desk's form and folder: every value of a job goes through its field and back, and no file is harmed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.demos import NAMES
from tests.killed import killed_while_it_replaces
from tubing.desk.helps import ASKED_AS, choices_of, helps_of, job_groups, questions_of
from tubing.desk.job_folder import ChangedMeanwhile, Folder
from tubing.desk.job_form import Field, at_fault, groups_of, text_of, value_of
from tubing.errors import InputError, JobError
from tubing.inputs.job_file import job_of, read_job
from tubing.inputs.rewriting import with_value
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.inputs.toml_files import toml_of

JOBS = data_folder() / "jobs"
SHOP = read_shop(None)


def text_of_demo(name: str) -> str:
    return (JOBS / f"{name}.toml").read_text(encoding="utf-8")


def fields_of(text: str) -> list[Field]:
    groups = job_groups(toml_of(text, "x.toml"), questions_of(SHOP))
    return [field for group in groups for field in group.fields]


def at(data: object, path: tuple[str | int, ...]) -> object:
    for step in path:
        data = data[step]  # type: ignore[index]
    return data


@pytest.mark.parametrize("name", NAMES)
def test_every_value_goes_through_its_field_and_back(name: str):
    """Nothing in the form changes the file until something else is typed, and no value is without a field."""
    text = text_of_demo(name)
    data = toml_of(text, "x.toml")
    fields = fields_of(text)
    for field in fields:
        value = value_of(field.text, at(data, field.path), field.label)
        assert with_value(text, "x.toml", field.path, value) == text, field.path
    assert len({field.path for field in fields}) == len(fields)

    def leaves(value: object) -> int:
        if isinstance(value, dict):
            return sum(map(leaves, value.values()))
        if isinstance(value, list) and any(isinstance(each, list | dict) for each in value):
            return sum(map(leaves, value))
        return 1

    assert len(fields) == leaves(data)


@pytest.mark.parametrize("name", NAMES)
def test_a_changed_value_changes_its_own_line_alone(name: str):
    """Remarks, order and alignment stay: the hole of the last wheelbox, moved by hand in its text."""
    text = text_of_demo(name)
    data = toml_of(text, "x.toml")
    path = ("wheelbox", len(data["wheelbox"]) - 1, "name")
    changed = with_value(text, "x.toml", path, "another name")
    before, after = text.splitlines(), changed.splitlines()
    assert len(before) == len(after)
    assert sum(a != b for a, b in zip(before, after, strict=True)) == 1
    assert toml_of(changed, "x.toml")["wheelbox"][-1]["name"] == "another name"


def test_a_position_may_be_said_in_words_and_a_remark_stays():
    text = 'hole = ["-250 mm", "0 mm", "0 mm"]  # twice\n'
    value = value_of("240 mm left, 0 mm back, 5 mm up", ["-250 mm", "0 mm", "0 mm"], "hole")
    assert with_value(text, "x.toml", ("hole",), value) == 'hole = ["-240 mm", "0 mm", "5 mm"]  # twice\n'


@pytest.mark.parametrize(
    ("typed", "old", "message"),
    [
        ("x", 2, "vehicles: it is 'x'; it must be a whole number; write it without a unit"),
        ("1 mm", 0.5, "vehicles: it is '1 mm'; it must be a plain number; write it without a unit"),
        ("0, up, 1", [0.0, 0.0, 1.0], "vehicles: it is 'up'; it must be a plain number; write it without a unit"),
    ],
)
def test_what_is_no_number_is_told(typed: str, old: object, message: str):
    with pytest.raises(JobError) as error:
        value_of(typed, old, "vehicles")
    assert str(error.value) == message


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        (("wheelbox", 1, "hole"), "200, 0 mm, 0 mm"),
        (("drive", "sweep"), "110 mm"),
        (("tube", "size"), "stel-8"),
        (("wheelbox", 0, "model"), "a box"),
        (("motor", "model"), "none"),
        (("measuring", "error"), "1.5"),
    ],
)
def test_an_error_names_its_field(path: tuple[str | int, ...], typed: str):
    """What the job's own reader says of a value is shown at the field that it stands in."""
    text = text_of_demo("lined-up-twin")
    old = at(toml_of(text, "x.toml"), path)
    value = [part.strip() for part in typed.split(",")] if isinstance(old, list) else typed
    changed = with_value(text, "x.toml", path, value)
    with pytest.raises(InputError) as error:
        job_of(toml_of(changed, "x.toml"), "x.toml", SHOP)
    groups = groups_of(toml_of(changed, "x.toml"), {}, {})
    assert at_fault(error.value, groups, "x.toml") == path


def test_every_question_that_the_form_names_is_asked_by_new():
    """One list: a question that `new` no longer asks would leave its field without words."""
    asked = questions_of(SHOP)
    helps = helps_of(asked)
    assert sorted(set(ASKED_AS) - set(helps)) == []
    assert all(len(words) > 20 for words in helps.values())
    assert choices_of(asked)["tube.size"]
    assert choices_of(asked)["wheelbox.side"] == ("right", "left")


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """A folder with one job."""
    (tmp_path / "van.toml").write_text(text_of_demo("lined-up-twin"), encoding="utf-8")
    return Folder(tmp_path)


def test_a_saved_job_is_the_text_and_the_next_save_goes_by_its_version(folder: Folder):
    job = folder.job("van.toml")
    saved = folder.save("van.toml", job.text.replace("Lined-up", "Blue"), job.version)
    assert (folder.path / "van.toml").read_text(encoding="utf-8").count("Blue") == 1
    folder.save("van.toml", job.text, saved.version)
    assert folder.job("van.toml") == job


def test_what_somebody_else_wrote_meanwhile_is_never_overwritten(folder: Folder):
    job = folder.job("van.toml")
    (folder.path / "van.toml").write_text("title = 'theirs'\n", encoding="utf-8")
    with pytest.raises(ChangedMeanwhile) as error:
        folder.save("van.toml", job.text, job.version)
    assert error.value.on_disk.text == "title = 'theirs'\n"
    assert str(error.value) == (
        "van.toml: it was changed on disk since you opened it; nothing of it is overwritten; load it anew, or save "
        "yours under another name"
    )
    assert (folder.path / "van.toml").read_text(encoding="utf-8") == "title = 'theirs'\n"


def test_a_text_that_is_no_toml_is_not_saved(folder: Folder):
    job = folder.job("van.toml")
    with pytest.raises(JobError):
        folder.save("van.toml", "title = \n", job.version)
    assert folder.job("van.toml") == job


def test_line_ends_and_byte_order_mark_of_another_editor_stay(tmp_path: Path):
    """A page has plain line ends; the file gets back what it had."""
    raw = ("\ufeff" + text_of_demo("lined-up-twin")).replace("\n", "\r\n").encode("utf-8")
    (tmp_path / "van.toml").write_bytes(raw)
    folder = Folder(tmp_path)
    job = folder.job("van.toml")
    assert "\r" not in job.text
    folder.save("van.toml", job.text.replace("Lined-up", "Blue"), job.version)
    assert (tmp_path / "van.toml").read_bytes() == raw.replace(b"Lined-up", b"Blue")


@pytest.mark.parametrize(
    "name", ["../van.toml", "/etc/hosts", "shop.toml", ".hidden.toml", "van.txt", "", "link.toml", "sub"]
)
def test_nothing_outside_the_folder_is_a_job(name: str, folder: Folder, tmp_path_factory: pytest.TempPathFactory):
    """Paths, hidden files, the shop's file, a link that leads out, a folder."""
    other = tmp_path_factory.mktemp("other") / "secret.toml"
    other.write_text("title = 'secret'\n", encoding="utf-8")
    (folder.path / "link.toml").symlink_to(other)
    (folder.path / "sub").mkdir()
    (folder.path / "shop.toml").touch()
    (folder.path / ".hidden.toml").touch()
    with pytest.raises(JobError, match="the folder has no such job"):
        folder.job(name)
    assert [each.name for each in folder.jobs()] == ["van.toml"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process that can be split in two")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
@pytest.mark.parametrize("when", ["before", "after"])
def test_a_save_that_is_killed_leaves_the_old_file_or_the_new_one(when: str, folder: Folder):
    """Killed at the one step that puts it in place; what is left beside it is no job."""
    job = folder.job("van.toml")
    changed = job.text.replace("Lined-up", "Blue")
    assert killed_while_it_replaces(lambda: folder.save("van.toml", changed, job.version), when)
    found = folder.job("van.toml").text
    assert found == (job.text if when == "before" else changed)
    assert [each.name for each in folder.jobs()] == ["van.toml"]


def test_a_job_read_by_the_desk_is_the_job_of_the_commands(folder: Folder):
    assert job_of(toml_of(folder.job("van.toml").text, "van.toml"), "van.toml", SHOP) == read_job(
        folder.path / "van.toml", SHOP
    )


def test_values_are_shown_as_they_are_typed():
    assert [text_of(value) for value in ("a", 3, 0.5, True, ["1 mm", "2 mm"])] == [
        "a",
        "3",
        "0.5",
        "true",
        "1 mm, 2 mm",
    ]
