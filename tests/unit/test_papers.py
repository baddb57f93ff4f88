"""The papers for those who use the program and those who carry it on say what is so."""

import re
from pathlib import Path
from typing import get_args, get_origin

import pytest

import tubing
from tubing.commands import main
from tubing.inputs.from_file import FromFile, section_of
from tubing.inputs.job_schema import JobFile
from tubing.inputs.section import Section
from tubing.inputs.shop_file import ShopFile, data_folder

TOP = Path(tubing.__file__).parent.parent


def text_of(name):
    return (TOP / name).read_text(encoding="utf-8")


@pytest.mark.parametrize(("name", "most"), [("README.md", 1500), ("DEVELOPERS.md", 2000)])
def test_a_paper_is_short_enough_to_be_read(name, most):
    """Counted as the shell's wc counts words."""
    assert len(text_of(name).split()) <= most


def test_the_excerpt_of_the_readme_is_what_the_program_prints(capsys):
    """Every line of it, in order; lines in between are left out."""
    [excerpt] = re.findall(r"```text\n(.*?)```", text_of("README.md"), re.S)
    assert main(["plan", str(data_folder() / "jobs" / "round-the-corner.toml")]) == 0
    printed = iter(capsys.readouterr().out.split("\n"))
    for line in excerpt.strip().split("\n"):
        assert line in printed, f"not printed, or not in this order: {line!r}"


def keys(section, seen):
    """Every key of a section of a file and of the sections in it."""
    for name, field in section.model_fields.items():
        yield field.alias or name
        for inner in parts_of(field.annotation):
            if inner not in seen and issubclass(inner, (Section, FromFile)):
                seen.add(inner)
                yield from keys(section_of(inner) if issubclass(inner, FromFile) else inner, seen)


def parts_of(annotation):
    """The classes that an annotation is made of."""
    if get_origin(annotation) is None:
        return [annotation] if isinstance(annotation, type) else []
    return [part for argument in get_args(annotation) for part in parts_of(argument)]


@pytest.mark.parametrize("file", [JobFile, ShopFile])
def test_the_reference_names_every_key(file):
    """A key that the reader takes and data/README.md does not name would never be found."""
    reference = text_of("data/README.md")
    named = set(re.findall(r"[a-z_]+", " ".join(re.findall(r"`[^`]*`|```.*?```", reference, re.S)) + reference))
    assert sorted(set(keys(file, set())) - named) == []


@pytest.mark.parametrize("name", ["tubes", "flares", "formers", "motors", "wheelboxes", "arms"])
def test_the_reference_names_every_column(name):
    reference = text_of("data/README.md")
    rows = [line for line in text_of(f"data/{name}.csv").split("\n") if line and not line.startswith("#")]
    for column in rows[0].split(","):
        assert column in reference, f"{name}.csv: {column}"
