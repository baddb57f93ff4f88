"""The page's server: what each address answers. Whatever it is asked, it reads and writes one folder alone."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from contextlib import asynccontextmanager
from datetime import date
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from tubing.ask.whole_form import WholeForm, whole_form
from tubing.desk.guard import defect
from tubing.desk.helps import job_groups, questions_of
from tubing.desk.job_folder import LONGEST_NAME, SHOP, ChangedMeanwhile, Folder, JobOnDisk
from tubing.desk.job_form import Group, groups_of, told, value_of
from tubing.desk.looking import Look, Task, current_shop, look_at_shop
from tubing.desk.papers import offer_of, saved_sheet
from tubing.desk.worker import Looker
from tubing.drawing.form_pictures import form_pictures
from tubing.drawing.svg import STYLE
from tubing.errors import InputError, TubingError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Shop
from tubing.inputs.rewriting import with_value
from tubing.inputs.toml_files import toml_of
from tubing.sheet import shelf_tables
from tubing.sheet.measuring_form import measuring_form
from tubing.sheet.words import counted, sentence
from tubing.shelf.of_shop import shelf_of
from tubing.writers import desk_pages
from tubing.writers.page import form_page, packaged, quote_page

GONE_S = 600.0  # the desk ends when no page has been open for so long
SHEET_POLICY = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"  # the sheet bears its own, stricter one

SHOP_CHOICES = {
    "price.unit": ("each", "m"),
    "money.tube_by": ("bars", "metre"),
    "trial_flare.kind": ("single", "double"),
}

Data = dict[str, Any]


class Desk:
    """The answers. ``alive_s``: when a page was last there, by the machine's own clock."""

    def __init__(self, folder: Folder, shop: Path | None) -> None:
        self.folder, self.shop = folder, shop
        self.alive_s = time.monotonic()
        self._looker: Looker | None = None

    @property
    def looker(self) -> Looker:
        """The process that plans."""
        assert self._looker is not None, "it is begun with the server"
        return self._looker

    @asynccontextmanager
    async def life(self, _: Starlette) -> AsyncIterator[None]:
        """The planning processes live as long as the server."""
        self._looker = Looker()
        try:
            yield
        finally:
            self._looker.close()

    def read_shop(self) -> Shop:
        """The shop as it is now. Raises what reading it raises."""
        return current_shop(self.shop_file)

    @property
    def shop_file(self) -> str:
        """The shop's file as a look takes it; empty: the one that comes with the program."""
        return "" if self.shop is None else str(self.shop)

    def groups(self, text: str, name: str) -> list[Any]:
        """The form of a text. Raises InputError where it is no TOML."""
        return job_groups(toml_of(text, name), questions_of(self.read_shop()))

    def task(self, job: JobOnDisk, text: str, layout: str) -> Task:
        """What the worker is to look at."""
        return Task(job.name, text, job.text, self.shop_file, layout, str(self.folder.path / job.name))

    # The answers

    async def list_page(self, _: Request) -> Response:
        """The list of jobs."""
        jobs = [(each.name, each.title) for each in self.folder.jobs()]
        has_shop = self.shop is not None and self.shop.resolve() == self.folder.shop_path
        return HTMLResponse(desk_pages.folder_page(self.folder.path.name or "/", jobs, has_shop=has_shop))

    async def job_page(self, request: Request) -> Response:
        """The page of one job."""
        found = self.folder.job(request.path_params["name"])
        try:
            data = toml_of(found.text, found.name)
            groups = self.groups(found.text, found.name)
        except InputError:
            data, groups = {}, []  # it is mended as text; the look says what is wrong
        layouts = [name for name in data.get("layouts", {}) if isinstance(name, str)]
        return HTMLResponse(desk_pages.job_page(found.name, found.text, found.version, groups, layouts))

    async def look(self, request: Request) -> Response:
        """A plan of the text on the page, with what was typed into a field."""
        found = self.folder.job(request.path_params["name"])

        async def planned(text: str, body: Data) -> Look | None:
            return await self.looker.look(self.task(found, text, _text(body, "layout")))

        return await self._looked(await _body(request), found.name, planned)

    async def _looked(self, body: Data, name: str, looks: Callable[[str, Data], Awaitable[Look | None]]) -> Response:
        """What a look shows of the text on the page, once what was typed into a field stands in it."""
        text, change = _text(body, "text"), body.get("change")
        if isinstance(change, dict):
            try:
                text = changed(text, name, change)
            except InputError as error:
                at = list(change.get("path") or ())
                return JSONResponse({"error": told(error), "at": at, "said": told(error)})
        shown = await looks(text, body)
        return Response(status_code=204) if shown is None else JSONResponse(_data(shown) | {"text": text})

    async def fields(self, request: Request) -> Response:
        """The form of a text, after undo or a change by hand."""
        text = _text(await _body(request), "text")
        return JSONResponse({"html": desk_pages.fields_fragment(self.groups(text, request.path_params["name"]))})

    async def save(self, request: Request) -> Response:
        """Write the file, unless somebody else has."""
        body, name = await _body(request), request.path_params["name"]
        return _saved(lambda: self.folder.save(name, _text(body, "text"), _text(body, "version")))

    async def sheet(self, request: Request) -> Response:
        """The sheet of the saved job."""
        found = self.folder.job(request.path_params["name"])
        html = await asyncio.to_thread(saved_sheet, self.folder.path / found.name, self.read_shop())
        return HTMLResponse(html, headers={"content-security-policy": SHEET_POLICY})

    async def quote(self, request: Request) -> Response:
        """The quote for the saved job, of today."""
        path, shop = self.folder.path / self.folder.job(request.path_params["name"]).name, self.read_shop()
        customer = request.query_params.get("customer", "")[:LONGEST_NAME]
        job = read_job(path, shop)
        offer = await asyncio.to_thread(offer_of, path, job, shop, (), customer, "", date.today())
        return HTMLResponse(quote_page(offer), headers={"content-security-policy": SHEET_POLICY})

    async def form(self, request: Request) -> Response:
        """The measuring form, for as many wheelboxes as the address says."""
        boxes = request.query_params.get("boxes", "2")
        if boxes not in ("1", "2", "3", "4", "5", "6"):
            raise BadRequest
        shop = self.read_shop()
        html = form_page(measuring_form(shop, int(boxes)), form_pictures(), shop.business)
        return HTMLResponse(html, headers={"content-security-policy": SHEET_POLICY})

    async def new_page(self, _: Request) -> Response:
        """The page on which a job is begun."""
        return HTMLResponse(desk_pages.new_page(whole_form(self.read_shop(), {})))

    async def new_form(self, request: Request) -> Response:
        """The questions with what was typed so far, and the plan once all are answered."""
        form = whole_form(self.read_shop(), _answers(await _body(request)))
        rows = [
            {"key": each.question.key, "text": each.text, "wrong": sentence(each.wrong) if each.wrong else ""}
            for each in form.asked
        ]
        shown: Data = {
            "html": desk_pages.questions_fragment(form),
            "rows": rows,
            "whole": bool(form.text),
            "said": _stands(form),
        }
        if form.text:
            found = await self.looker.look(self.task(JobOnDisk("new-job.toml", form.text, ""), form.text, ""))
            if found is None:
                return Response(status_code=204)
            shown |= {"look": found.html, "said": found.said or found.error}
        return JSONResponse(shown)

    async def new_save(self, request: Request) -> Response:
        """Write the new job."""
        body = await _body(request)
        form = whole_form(self.read_shop(), _answers(body))
        if not form.text:
            return JSONResponse({"error": _stands(form)}, status_code=400)
        return JSONResponse({"name": self.folder.write_new(_text(body, "file").strip(), form.text).name})

    async def shop_page(self, _: Request) -> Response:
        """The shop's file."""
        found = self.folder.shop()
        return HTMLResponse(
            desk_pages.job_page(found.name, found.text, found.version, _plain(found.text), (), is_shop=True)
        )

    async def shop_look(self, request: Request) -> Response:
        """The tables of a shop's text, with what was typed into a field."""
        return await self._looked(await _body(request), self.folder.shop().name, self._tables)

    async def _tables(self, text: str, _: Data) -> Look | None:
        return look_at_shop(text, self.folder.shop_path)

    async def shop_fields(self, request: Request) -> Response:
        """The form of a shop's text."""
        return JSONResponse({"html": desk_pages.fields_fragment(_plain(_text(await _body(request), "text")))})

    async def shop_save(self, request: Request) -> Response:
        """Write the shop's file, unless somebody else has."""
        body = await _body(request)
        return _saved(lambda: self.folder.save_shop(_text(body, "text"), _text(body, "version")))

    async def shelf_page(self, _: Request) -> Response:
        """The shelf, by its book or by the shop's list."""
        shop = self.read_shop()
        now = shelf_of(shop)
        if now is None:
            return HTMLResponse(desk_pages.shelf_page("The shelf, by the shop's file", shelf_tables.listed_parts(shop)))
        parts = [shelf_tables.shelf_table(now, shop.money.currency), *shelf_tables.to_buy_lines(now)]
        return HTMLResponse(desk_pages.shelf_page(f"The shelf, by {Path(shop.book).name}", parts))

    async def stop(self, _: Request) -> Response:
        """Give up what is being planned."""
        self.looker.stop()
        return Response(status_code=204)

    async def alive(self, _: Request) -> Response:
        """A page is open."""
        self.alive_s = time.monotonic()
        return Response(status_code=204)

    async def style(self, _: Request) -> Response:
        """The pages' style, and the pictures'."""
        return Response(packaged("desk.css") + STYLE, media_type="text/css")

    async def script(self, _: Request) -> Response:
        """The pages' one script."""
        return Response(packaged("desk.js"), media_type="text/javascript")


def application(desk: Desk) -> Starlette:
    """All addresses."""
    one = "/job/{name}"
    return Starlette(
        routes=[
            Route("/", desk.list_page),
            Route("/desk.css", desk.style),
            Route("/desk.js", desk.script),
            Route("/alive", desk.alive, methods=["POST"]),
            Route("/stop", desk.stop, methods=["POST"]),
            Route("/new", desk.new_page),
            Route("/shelf", desk.shelf_page),
            Route("/shop", desk.shop_page),
            Route("/shop/look", desk.shop_look, methods=["POST"]),
            Route("/shop/fields", desk.shop_fields, methods=["POST"]),
            Route("/shop/save", desk.shop_save, methods=["POST"]),
            Route("/new/form", desk.new_form, methods=["POST"]),
            Route("/new/save", desk.new_save, methods=["POST"]),
            Route(one, desk.job_page),
            Route(f"{one}/sheet", desk.sheet),
            Route(f"{one}/quote", desk.quote),
            Route("/form", desk.form),
            Route(f"{one}/look", desk.look, methods=["POST"]),
            Route(f"{one}/fields", desk.fields, methods=["POST"]),
            Route(f"{one}/save", desk.save, methods=["POST"]),
        ],
        exception_handlers={
            Exception: _defect,
            TubingError: _told,
            BadRequest: _bad,
            ClientDisconnect: _bad,
            404: _nothing,
        },
        lifespan=desk.life,
    )


class BadRequest(Exception):
    """A request that our own page would not make."""


async def _body(request: Request) -> Data:
    try:
        found = json.loads(await request.body())
    except ValueError:
        raise BadRequest from None
    if not isinstance(found, dict):
        raise BadRequest
    return found


def _text(body: Mapping[str, Any], key: str) -> str:
    found = body.get(key)
    if not isinstance(found, str):
        raise BadRequest
    return found


def _answers(body: Mapping[str, Any]) -> dict[str, str]:
    found = body.get("answers")
    if not isinstance(found, dict) or not all(isinstance(text, str) for text in found.values()):
        raise BadRequest
    return found


def _stands(form: WholeForm) -> str:
    """How far the questions are answered."""
    wrong = f"{counted(len(form.wrong), 'answer')} will not do" if form.wrong else ""
    still = f"{counted(form.open, 'question')} still open" if form.open else ""
    return sentence("; ".join(each for each in (wrong, still) if each) or "All questions are answered")


def _saved(save: Callable[[], JobOnDisk]) -> Response:
    """The new version; or, where somebody else has written meanwhile, what lies there now."""
    try:
        return JSONResponse({"version": save().version})
    except ChangedMeanwhile as error:
        now = error.on_disk
        return JSONResponse({"error": told(error), "text": now.text, "version": now.version}, status_code=409)


def _plain(text: str) -> list[Group]:
    """The form of a shop's text: its fields explain themselves, data/README.md says more."""
    try:
        return groups_of(toml_of(text, SHOP), SHOP_CHOICES, {})
    except InputError:
        return []


def changed(text: str, name: str, change: Mapping[str, Any]) -> str:
    """A job's text with what was typed into one field. Raises JobError and UnitError."""
    path, typed = change.get("path"), change.get("typed")
    plain = isinstance(path, list) and path and all(isinstance(step, str | int) for step in path)
    if not plain or not isinstance(path, list) or not isinstance(typed, str):
        raise BadRequest
    old: Any = toml_of(text, name)
    try:
        for step in path:
            old = old[step]
    except (LookupError, TypeError):
        raise BadRequest from None
    return with_value(text, name, path, value_of(typed, old, str(path[-1]).replace("_", " ")))


def _data(shown: Look) -> Data:
    return {
        "html": shown.html,
        "said": shown.said,
        "error": shown.error,
        "at": None if shown.at is None else list(shown.at),
    }


async def _told(request: Request, error: Exception) -> Response:
    """One of our own errors: to the page's script as data, else as a page."""
    words = told(error)
    if request.method == "POST":
        return JSONResponse({"error": words}, status_code=400)
    return HTMLResponse(desk_pages.words_page("This cannot be shown", words), status_code=400)


async def _defect(_: Request, error: Exception) -> Response:
    return JSONResponse({"error": defect(error)}, status_code=500)


async def _bad(_: Request, __: Exception) -> Response:
    return Response("The request is none that the page makes.", status_code=400)


async def _nothing(_: Request, __: Exception) -> Response:
    return HTMLResponse(
        desk_pages.words_page("There is nothing here", "The address is none of the desk's."), status_code=404
    )
