"""The desk's server, really served: what it refuses, what it answers, and that it plans no more than it must.

The refusals follow OWASP's sheets on cross-site request forgery, content policy and headers (read in their sources of
2025), and what is published of DNS rebinding: only a Host and an Origin that are exactly our own are let in.
"""

from __future__ import annotations

import asyncio
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.desks import Served, served
from tests.shops import BOOK, shop_with_book
from tubing.inputs.shop_file import data_folder

pytestmark = pytest.mark.long
JOBS = data_folder() / "jobs"
TWIN = (JOBS / "lined-up-twin.toml").read_text(encoding="utf-8")
HOSTILE = "<script>alert(\"x\")</script> & 'co'"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a twin, a job with a hostile title, and one that is no TOML."""
    path = tmp_path_factory.mktemp("jobs")
    (path / "van.toml").write_text(TWIN, encoding="utf-8")
    title = HOSTILE.replace('"', '\\"')
    (path / "hostile.toml").write_text(TWIN.replace('"Lined-up two-seater"', f'"{title}"'), encoding="utf-8")
    (path / "broken.toml").write_text("title = \n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def desk(folder: Path) -> Iterator[Served]:
    with served(folder) as started:
        yield started


def alone(work: Coroutine[object, object, object]) -> object:
    """Runs in a thread of its own: the browser of other tests may have a loop of its own in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


def look(desk: Served, text: str = TWIN, **more: object) -> tuple[int, dict]:
    return desk.post("/job/van.toml/look", {"text": text, "layout": "", **more})


def test_the_first_address_becomes_a_cookie_and_a_clean_one(desk: Served):
    """The token does not stay in the address, where a history or a referrer would keep it."""
    status, heads, _ = desk.ask("GET", f"/?token={desk.token}", heads={"Cookie": None})
    assert (status, heads["location"]) == (303, "/")
    assert "HttpOnly" in heads["set-cookie"]
    assert "SameSite=Strict" in heads["set-cookie"]
    assert len(desk.token) >= 32, "128 bits and more"
    assert desk.ask("GET", "/?token=wrong", heads={"Cookie": None})[0] == 403


@pytest.mark.parametrize(
    ("heads", "status"),
    [
        ({"Host": "evil.example"}, 403),
        ({"Host": "127.0.0.1"}, 403),
        ({"Host": "127.0.0.1:80"}, 403),
        ({"Host": None}, 400),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": None}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Cookie": None}, 403),
        ({"Cookie": "desk-1=x"}, 403),
        ({"Content-Type": "text/plain"}, 415),
        ({"Content-Type": "application/x-www-form-urlencoded"}, 415),
        ({"Content-Length": "100000000"}, 413),
        ({"Content-Length": "x"}, 400),
    ],
)
def test_a_request_that_is_not_our_pages_is_refused(heads: dict[str, str | None], status: int, desk: Served):
    """Each row of the defence: host, origin, site, token, kind of body, size of body."""
    body = {"text": TWIN, "version": "x"}
    found, answered, _ = desk.ask("POST", "/job/van.toml/save", body, heads)
    assert found == status
    assert not any(name.startswith("access-control") for name in answered)


def test_nothing_is_changed_by_a_get_and_the_address_needs_the_cookie(desk: Served):
    assert desk.ask("GET", "/job/van.toml/save")[0] == 405
    for path in ("/", "/job/van.toml", "/desk.js", "/job/van.toml/sheet"):
        assert desk.ask("GET", path, heads={"Cookie": None})[0] == 403


@pytest.mark.parametrize(
    "path",
    ["/job/..%2fsecret.toml", "/job/..%2F..%2Fetc%2Fpasswd", "/job/%2Fetc%2Fhosts", "/job/shop.toml", "/job/%00.toml"],
)
def test_no_path_leads_out_of_the_folder(path: str, desk: Served):
    status, _, text = desk.ask("GET", path)
    assert status in (400, 404)
    assert "root:" not in text


def test_every_page_bears_its_policy(desk: Served):
    """No script but our own file, no style but our own, nothing from elsewhere, no frame round it."""
    _, heads, text = desk.ask("GET", "/job/van.toml")
    policy = heads["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert (heads["x-content-type-options"], heads["referrer-policy"], heads["cache-control"]) == (
        "nosniff", "no-referrer", "no-store",
    )  # fmt: skip
    assert re.findall(r"<script(?! src=\"/desk\.js\")", text) == []
    assert " style=" not in text
    assert re.findall(r"https?://", text) == []


def test_a_hostile_name_is_a_name(desk: Served):
    for path in ("/", "/job/hostile.toml", "/job/hostile.toml/sheet"):
        status, _, text = desk.ask("GET", path)
        assert status == 200
        assert "<script>alert" not in text
    corner = (JOBS / "round-the-corner.toml").read_text(encoding="utf-8").replace('"heater"', '"<b>"')
    found = desk.post("/job/hostile.toml/look", {"text": corner, "layout": ""})[1]
    assert "<b>" not in found["html"]
    assert "&lt;b&gt;" in found["html"]


def test_a_look_shows_plan_pictures_and_what_changed(desk: Served):
    """A changed position gives a new text, a new plan, and old beside new."""
    status, first = look(desk)
    assert (status, first["error"]) == (200, "")
    assert "<svg" in first["html"]
    assert "Cut list" in first["html"]
    assert "Changed" not in first["html"]
    change = {"path": ["wheelbox", 1, "hole"], "typed": "203 mm, 0 mm, 0 mm"}
    status, second = look(desk, change=change)
    assert second["text"] == TWIN.replace('["200 mm", "0 mm", "0 mm"]', '["203 mm", "0 mm", "0 mm"]')
    assert "Changed against the saved file" in second["html"]
    assert "piece near-far, sawn" in second["html"]


def test_what_is_wrong_is_said_at_its_field(desk: Served):
    status, found = look(desk, change={"path": ["wheelbox", 1, "hole"], "typed": "203, 0 mm, 0 mm"})
    assert (status, found["at"]) == (200, ["wheelbox", 1, "hole"])
    assert "must be a length" in found["error"]
    found = look(desk, TWIN.replace("110 deg", "1100 deg"))[1]
    assert found["at"] == ["drive", "sweep"]
    found = look(desk, "title = \n")[1]
    assert "line 1" in found["error"]
    assert found["at"] is None


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b'{"text": 5}', {"text": TWIN},
     {"text": TWIN, "layout": "", "change": {"path": ["no"], "typed": "x"}},
     {"text": TWIN, "layout": "", "change": {"path": [], "typed": "x"}},
     {"text": TWIN, "layout": "", "change": {"path": ["title"], "typed": 5}}],
)  # fmt: skip
def test_what_the_page_never_sends_is_refused_quietly(body: object, desk: Served):
    status, _, text = desk.ask("POST", "/job/van.toml/look", body)
    assert status == 400
    assert "Traceback" not in text


def test_a_broken_job_is_listed_opened_and_mended(desk: Served, folder: Path):
    assert "cannot be read" in desk.ask("GET", "/")[2]
    status, _, text = desk.ask("GET", "/job/broken.toml")
    assert status == 200
    version = re.search(r'data-version="([0-9a-f]+)"', text)
    assert version is not None
    status, _ = desk.post("/job/broken.toml/save", {"text": TWIN, "version": version[1]})
    assert status == 200
    assert (folder / "broken.toml").read_text(encoding="utf-8") == TWIN
    (folder / "broken.toml").write_text("title = \n", encoding="utf-8")


def test_a_file_changed_on_disk_is_shown_and_not_overwritten(desk: Served, folder: Path):
    path = folder / "other.toml"
    path.write_text(TWIN, encoding="utf-8")
    version = re.search(r'data-version="([0-9a-f]+)"', desk.ask("GET", "/job/other.toml")[2])
    assert version is not None
    theirs = TWIN.replace("110 deg", "100 deg")
    path.write_text(theirs, encoding="utf-8")
    status, found = desk.post("/job/other.toml/save", {"text": TWIN, "version": version[1]})
    assert (status, found["text"]) == (409, theirs)
    assert path.read_text(encoding="utf-8") == theirs
    status, _ = desk.post("/job/other.toml/save", {"text": TWIN, "version": found["version"]})
    assert (status, path.read_text(encoding="utf-8")) == (200, TWIN)
    path.unlink()


def test_ten_rapid_changes_cost_at_most_two_plans(desk: Served):
    """Of those that wait only the newest is looked at; the others are told that they are out of date."""
    look(desk)
    statuses: list[int] = []
    threads = []
    for k in range(10):
        text = TWIN + "\n" * (k + 1)
        threads.append(threading.Thread(target=lambda t=text: statuses.append(look(desk, t)[0])))
    for thread in threads:
        thread.start()
        time.sleep(0.002)
    for thread in threads:
        thread.join()
    assert sorted(set(statuses)) == [200, 204]
    assert statuses.count(200) <= 3, "the one under way, and the newest; one more where the first was very quick"


def test_a_stopped_search_holds_up_nothing(desk: Served):
    """Stopped in the middle, the next look is answered by the process that stood ready."""
    hard = (JOBS / "curved-scuttle.toml").read_text(encoding="utf-8")
    answers: list[int] = []
    thread = threading.Thread(target=lambda: answers.append(look(desk, hard)[0]))
    thread.start()
    time.sleep(0.1)
    assert desk.post("/stop", {})[0] == 204
    thread.join()
    assert answers in ([204], [200])
    assert look(desk)[0] == 200


def test_the_sheet_is_the_commands_own(desk: Served):
    status, heads, text = desk.ask("GET", "/job/van.toml/sheet")
    assert status == 200
    assert "Cut list" in text
    assert "Content-Security-Policy" in text, "it bears its own policy"
    assert "script-src" not in heads["content-security-policy"]


def test_an_address_that_is_none_says_so(desk: Served):
    status, _, text = desk.ask("GET", "/nowhere")
    assert status == 404
    assert "There is nothing here" in text


def test_ctrl_c_ends_it_quietly(tmp_path: Path):
    (tmp_path / "van.toml").write_text(TWIN, encoding="utf-8")
    with served(tmp_path) as desk:
        assert look(desk)[0] == 200
        desk.process.send_signal(signal.SIGINT)
        assert desk.process.wait(timeout=20) == 0
        assert desk.process.stdout is not None
        assert desk.process.stdout.read().splitlines()[-1] == "The desk is closed."


def test_a_shop_in_the_folder_is_used_with_its_book(tmp_path: Path):
    """The plan on the page takes bars from the shelf's book as the commands do."""
    from fractions import Fraction

    from tubing.shelf.records import NewBar

    shop_with_book(tmp_path, NewBar("steel-8", Fraction(1500), (), 1))
    (tmp_path / "van.toml").write_text(TWIN, encoding="utf-8")
    assert (tmp_path / BOOK).exists()
    with served(tmp_path) as desk:
        assert "shop.toml" not in desk.ask("GET", "/")[2]
        assert "no. 1" in look(desk)[1]["html"]


def test_a_folder_that_is_none_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    from tubing.commands import main

    assert main(["desk", str(tmp_path / "nowhere"), "--no-browser"]) == 2
    assert capsys.readouterr().err == (
        f"{tmp_path / 'nowhere'}: there is no such folder; it must be the folder with your jobs; name it, or start the "
        "desk in it\n"
    )


def test_a_job_is_begun_and_never_over_one_that_is_there(desk: Served, folder: Path):
    """The form as data, the whole job written into a new file, a name that is taken or leads elsewhere refused."""
    from tests.unit.test_whole_form import TYPED

    assert desk.ask("GET", "/new")[0] == 200
    status, found = desk.post("/new/form", {"answers": {"title": "x"}})
    assert (status, found["whole"]) == (200, False)
    assert "still open" in found["said"]
    status, found = desk.post("/new/form", {"answers": TYPED})
    assert (status, found["whole"]) == (200, True)
    assert "<svg" in found["look"]
    for name in ("../x.toml", "shop.toml", ".x.toml", "x.txt", "/tmp/x.toml"):
        status, found = desk.post("/new/save", {"answers": TYPED, "file": name})
        assert (status, found["error"]) == (
            400, f"file: it is {name!r}; it must be a plain name that ends in .toml; write van.toml."
        )  # fmt: skip
    status, found = desk.post("/new/save", {"answers": TYPED, "file": "van.toml"})
    assert (status, found["error"]) == (400, "van.toml: it is there already; it stays as it is; give another name.")
    status, found = desk.post("/new/save", {"answers": TYPED, "file": "two-seater.toml"})
    assert (status, found["name"]) == (200, "two-seater.toml")
    assert 'title  = "Two-seater"' in (folder / "two-seater.toml").read_text(encoding="utf-8")
    (folder / "two-seater.toml").unlink()
    assert desk.post("/new/form", {"answers": {"title": 5}})[0] == 400


def test_a_defect_is_told_and_is_no_traceback():
    """An application that fails, behind the guard: one line of data, with the status of a defect."""
    from tubing.desk.guard import Guard

    async def failing(scope: object, receive: object, send: object) -> None:
        raise KeyError("lost")

    guard, sent = Guard(failing, 5), list[dict]()

    async def send(message: dict) -> None:
        sent.append(message)

    heads = [(b"host", b"127.0.0.1:5"), (b"cookie", f"desk-5={guard.token}".encode())]
    alone(guard({"type": "http", "method": "GET", "path": "/", "headers": heads}, None, send))  # type: ignore[arg-type]
    assert sent[0]["status"] == 500
    assert b"A defect of this program (KeyError: 'lost')" in sent[1]["body"]


@pytest.fixture(scope="module")
def shop_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Served, Path]]:
    """A desk in a folder with a shop's file of its own, and a book of its shelf."""
    from fractions import Fraction

    from tubing.shelf.records import NewBar

    path = tmp_path_factory.mktemp("shop")
    shop_with_book(path, NewBar("steel-8", Fraction(1500), (), 1))
    (path / "van.toml").write_text(TWIN, encoding="utf-8")
    with served(path) as started:
        yield started, path


def test_the_shops_file_is_changed_on_its_page_and_its_remarks_stay(shop_desk: tuple[Served, Path]):
    """A price typed into its field, looked at as a table, saved; a wrong one is told at its field and not saved."""
    desk, path = shop_desk
    text = (path / "shop.toml").read_text(encoding="utf-8")
    status, _, page = desk.ask("GET", "/shop")
    assert status == 200
    assert "price &#39;bench-motor&#39;" in page
    version = re.search(r'data-version="([0-9a-f]+)"', page)
    assert version is not None
    change = {"path": ["money", "rate_per_hour"], "typed": "52.00"}
    status, found = desk.post("/shop/look", {"text": text, "layout": "", "change": change})
    assert (status, found["error"]) == (200, "")
    assert found["text"] == text.replace('"48.00"', '"52.00"')
    assert "Prices" in found["html"]
    wrong = {"path": ["money", "tax"], "typed": "20"}
    status, told = desk.post("/shop/look", {"text": text, "layout": "", "change": wrong})
    assert told["at"] == ["money", "tax"]
    assert "is not a percentage" in told["error"]
    status, refused = desk.post("/shop/save", {"text": text.replace('"20 %"', '"20"'), "version": version[1]})
    assert status == 400
    assert "is not a percentage" in refused["error"]
    status, saved = desk.post("/shop/save", {"text": found["text"], "version": version[1]})
    assert status == 200
    assert (path / "shop.toml").read_text(encoding="utf-8") == found["text"]
    assert desk.post("/shop/save", {"text": text, "version": version[1]})[0] == 409
    assert desk.post("/shop/save", {"text": text, "version": saved["version"]})[0] == 200


def test_the_shelf_has_a_page(shop_desk: tuple[Served, Path], desk: Served):
    """By the book where one is kept, else by the shop's list; a folder without a shop of its own says so."""
    assert "1500.00" in shop_desk[0].ask("GET", "/shelf")[2]
    assert 'href="/shop"' in shop_desk[0].ask("GET", "/")[2]
    assert "No book is kept" in desk.ask("GET", "/shelf")[2]
    assert 'href="/shop"' not in desk.ask("GET", "/")[2]
    status, _, text = desk.ask("GET", "/shop")
    assert status == 400
    assert "the folder has none" in text


def test_quote_and_form_are_printed_from_the_desk(desk: Served, capsys: pytest.CaptureFixture[str]):
    """The saved job's quote of today, and the form for two or three wheelboxes; a customer's name is a name."""
    status, _, text = desk.ask("GET", "/job/van.toml/quote?customer=%3Cb%3EN.%3C%2Fb%3E")
    assert status == 200
    assert "to pay" in text
    assert "&lt;b&gt;N.&lt;/b&gt;" in text
    status, _, text = desk.ask("GET", "/form?boxes=3")
    assert (status, text.count("counted from the motor</h2>")) == (200, 3)
    assert desk.ask("GET", "/form?boxes=99")[0] == 400


def test_it_ends_by_itself_when_no_page_is_open(tmp_path: Path):
    """Ten minutes as a second; a page that says that it is there puts the end off."""
    words = "import sys; from pathlib import Path; from tubing.desk.serving import serve; "
    words += "serve(Path(sys.argv[1]), None, lambda address: print(address, flush=True), gone_s=2.0)"
    process = subprocess.Popen(
        [sys.executable, "-c", words, str(tmp_path)], stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2]
    )
    assert process.stdout is not None
    with process.stdout:
        desk = Served(process, process.stdout.readline().strip())
        for _ in range(6):
            time.sleep(0.5)
            assert desk.post("/alive", {})[0] == 204
        assert process.poll() is None, "three seconds old, and still there"
        assert process.wait(timeout=20) == 0


def test_a_planning_process_that_dies_is_told_and_replaced():
    """Killed from outside in the middle of a look: it is said, and the next look is made by the spare one."""
    from tubing.desk.looking import Task
    from tubing.desk.worker import DIED, Looker

    async def days() -> tuple[str, str]:
        looker = Looker()
        try:
            hard = (JOBS / "curved-scuttle.toml").read_text(encoding="utf-8")
            waiting = asyncio.create_task(looker.look(Task("hard.toml", hard, hard, "", "")))
            await asyncio.sleep(0.2)
            looker._now.process.kill()
            first = await waiting
            second = await looker.look(Task("van.toml", TWIN, TWIN, "", ""))
            assert first is not None
            assert second is not None
            return first.error, second.error
        finally:
            looker.close()

    assert alone(days()) == (DIED, "")
