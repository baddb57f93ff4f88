"""The jobs of one folder: read, and saved only where nobody else has changed them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from msgspec import Struct

from tubing.errors import InputError, JobError
from tubing.inputs.shop_file import shop_of
from tubing.inputs.table_rows import read_text
from tubing.inputs.toml_files import read_toml, toml_of
from tubing.inputs.whole_files import put_in_place, replace_text

SUFFIX = ".toml"
SHOP = "shop.toml"
LONGEST_NAME = 100
MARK = "\ufeff"  # the byte order mark that some editors write


class JobOnDisk(Struct, frozen=True):
    """A job's file as it was read."""

    name: str
    raw: str  # as it lies there
    version: str

    @property
    def text(self) -> str:
        """Its text as a page has it: plain line ends, no byte order mark."""
        return self.raw.removeprefix(MARK).replace("\r\n", "\n")

    def as_it_was_written(self, text: str) -> str:
        """A page's text with the line ends and the byte order mark that this file has."""
        plain = text.replace("\r\n", "\n")
        ends = plain.replace("\n", "\r\n") if "\r\n" in self.raw else plain
        return f"{MARK}{ends}" if self.raw.startswith(MARK) else ends


class Listed(Struct, frozen=True):
    """A job in the list of the folder."""

    name: str
    title: str  # or what is wrong with the file


def version_of(text: str) -> str:
    """A code of a text."""
    return hashlib.sha256(text.encode()).hexdigest()


def job_at(path: Path) -> JobOnDisk:
    """A job's file as it lies there. Raises InputError for one that cannot be read as text."""
    read_text(path)  # tells what is no text in our words
    raw = path.read_bytes().decode("utf-8")
    return JobOnDisk(path.name, raw, version_of(raw))


class Folder:
    """One folder; nothing outside it is read or written."""

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()

    def jobs(self) -> list[Listed]:
        """Its jobs by name; a file that cannot be read is listed with what is wrong."""
        return [Listed(path.name, _title(path)) for path in sorted(self.path.glob(f"*{SUFFIX}")) if self._is_job(path)]

    def job(self, name: str) -> JobOnDisk:
        """A job as it lies there. Raises JobError where the folder has no such job, InputError for no text."""
        return job_at(self._place(name))

    def save(self, name: str, text: str, version: str) -> JobOnDisk:
        """Write a job's text over the version that it was made from.

        Raises JobError where the text is no TOML; ChangedMeanwhile, with what lies there now, where somebody else has
        written; OutputError.
        """
        toml_of(text, name)
        return _replaced(self._place(name), text, version, read_toml)

    @property
    def shop_path(self) -> Path:
        """Where the folder's own shop file lies, if it has one."""
        return self.path / SHOP

    def shop(self) -> JobOnDisk:
        """The folder's shop file. Raises JobError where it has none, InputError for no text."""
        if not self.shop_path.is_file() or self.shop_path.resolve().parent != self.path:
            raise JobError(
                SHOP, "the folder has none", "the prices and tools in use are those that come with the program",
                "copy data/shop.toml of the program into the folder, and start the desk again",
            )  # fmt: skip
        return job_at(self.shop_path)

    def save_shop(self, text: str, version: str) -> JobOnDisk:
        """Write the shop's file as :meth:`save` does a job's. Raises also what reading it as a shop raises."""
        self.shop()
        return _replaced(self.shop_path, text, version, lambda _: shop_of(toml_of(text, SHOP), self.shop_path))

    def write_new(self, name: str, text: str) -> JobOnDisk:
        """Write a job that is not there yet. Raises JobError for a name that is none or is taken, OutputError."""
        plain = Path(name).name == name and name.isprintable() and not name.startswith(".") and name != SHOP
        if not plain or not name.endswith(SUFFIX) or len(name) > LONGEST_NAME:
            raise JobError(
                "file", f"it is {name[:60]!r}", "it must be a plain name that ends in .toml", "write van.toml"
            )
        if not put_in_place(self.path / name, text, read_toml):
            raise JobError(name, "it is there already", "it stays as it is", "give another name")
        return self.job(name)

    def _place(self, name: str) -> Path:
        """Raises JobError unless the name is that of a job in this folder itself."""
        path = self.path / name
        if Path(name).name != name or not self._is_job(path):
            raise JobError(name[:60], "the folder has no such job", "it must be in the list", "go back to the list")
        return path

    def _is_job(self, path: Path) -> bool:
        """A plain file of the folder, not one that a link leads to elsewhere."""
        return (
            path.suffix == SUFFIX
            and path.name != SHOP
            and not path.name.startswith(".")
            and path.is_file()
            and path.resolve().parent == self.path
        )


class ChangedMeanwhile(InputError):
    """Somebody else has written the file since it was read; ``on_disk``: what lies there now."""

    def __init__(self, found: JobOnDisk) -> None:
        super().__init__(
            found.name,
            "it was changed on disk since you opened it",
            "nothing of it is overwritten",
            "load it anew, or save yours under another name",
        )
        self.on_disk = found


def _replaced(path: Path, text: str, version: str, check: Callable[[Path], object]) -> JobOnDisk:
    """A file written over the version that a page was made from. Raises ChangedMeanwhile, and what ``check`` raises."""
    found = job_at(path)
    if found.version != version:
        raise ChangedMeanwhile(found)
    replace_text(path, found.raw, found.as_it_was_written(text), check)
    return job_at(path)


def _title(path: Path) -> str:
    try:
        title = read_toml(path).get("title")
    except InputError as error:
        return f"cannot be read: {error}"
    return title if isinstance(title, str) else "no title"
