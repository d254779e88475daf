"""The group's pages: who may read them, what they show, and that they hold nothing of their own."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from werkzeug.test import Client, TestResponse

from logbook.centre.door import Door, beside_pages, create_app
from logbook.centre.pages import MOST_SHOWN, Pages, create_pages
from logbook.centre.store import Store
from logbook.proof.signing import signer_at
from logbook.times import utc_text
from tests.centre.conftest import Clinic, sql
from tests.centre.test_refused import past_rewritten, read, write
from tests.conftest import NOW, Ran

Centre = Callable[..., Ran]
HERE = {"Origin": "http://localhost"}
OPENED = (
    "/", "/?sort=heard", "/due", "/due?sort=due&region=a&kind=absorbent&within=60",
    "/due?site=birch-lane", "/site?name=alder-creek", "/where", "/where?written=LOT-9",
    "/where?written=nothing", "/lots",
)  # fmt: skip
NOT_THERE = ("/nowhere", "/site", "/site?name=nowhere", "/due?within=soon", "/?page=x")
LONGEST_BYTES = 60_000


@pytest.fixture
def client(pages: Pages, centre: Centre) -> FlaskClient:
    """A browser at which Robin reads."""
    return signed_in(pages, centre("reader", "add", "Robin").out.strip())


def signed_in(pages: Pages, token: str) -> FlaskClient:
    """A browser at which somebody typed a token."""
    client = create_pages(pages).test_client()
    answer = client.post("/enter", data={"token": token}, headers=HERE)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    return client


def text(answer: TestResponse) -> str:
    """The words of a page."""
    return " ".join(re.sub(r"<[^>]*>", " ", answer.text).replace("&#39;", "'").split())


def cells(answer: TestResponse) -> list[list[str]]:
    """The rows of the page's table."""
    body = answer.text.partition("<tbody>")[2]
    rows = re.findall(r"(?s)<tr>(.*?)</tr>", body)
    return [[re.sub("<[^>]*>", "", one) for one in re.findall(r"(?s)<td.*?</td>", row)]
            for row in rows]  # fmt: skip


def test_nobody_is_told_anything_without_a_token(
    pages: Pages, handed_over: list[Clinic], centre: Centre
) -> None:
    centre("reader", "add", "Robin")
    client = create_pages(pages).test_client()
    for path in (*OPENED, "/nowhere"):
        answer = client.get(path)
        assert answer.status_code == 401, path
        assert not any(one.name in text(answer) for one in handed_over)
        assert "Your token" in text(answer)
    for token in ("", "x", "ü" * 50):
        answer = client.post("/enter", data={"token": token}, headers=HERE)
        assert (answer.status_code, "Set-Cookie" in answer.headers) == (403, False)
        assert "Nobody reads here with that token" in text(answer)


def test_a_token_opens_the_page_that_was_asked_for_until_it_is_ended(
    pages: Pages, group: list[Clinic], centre: Centre
) -> None:
    token = centre("reader", "add", "Robin").out.strip()
    client = create_pages(replace(pages, secure=True)).test_client()
    given = {"token": token, "then": "/due?region=a"}
    answer = client.post("/enter", data=given, headers=HERE, base_url="https://localhost")
    assert answer.status_code == 403  # It was sent from http.
    headers = {"Origin": "https://localhost"}
    answer = client.post("/enter", data=given, headers=headers, base_url="https://localhost")
    assert answer.headers["Location"] == "/due?region=a"
    cookie = answer.headers["Set-Cookie"]
    assert all(one in cookie for one in ("HttpOnly", "Secure", "SameSite=Lax", "Max-Age=43200"))
    assert client.get("/due", base_url="https://localhost").status_code == 200
    assert "Robin reads no longer" in centre("reader", "end", "Robin").out
    assert client.get("/due", base_url="https://localhost").status_code == 401


@pytest.mark.parametrize("then", ["//evil.example/", "https://evil.example/", "/\\evil.example"])
def test_nobody_is_led_away_after_the_token(
    pages: Pages, group: list[Clinic], centre: Centre, then: str
) -> None:
    token = centre("reader", "add", "Robin").out.strip()
    client = create_pages(pages).test_client()
    answer = client.post("/enter", data={"token": token, "then": then}, headers=HERE)
    assert answer.headers["Location"] == "/"


def test_whoever_leaves_reads_no_longer_at_that_browser(client: FlaskClient) -> None:
    assert client.get("/").status_code == 200
    assert client.post("/leave", headers=HERE).status_code == 303
    assert client.get("/").status_code == 401


def test_readers_are_named_once_listed_and_kept_as_digests(
    centre: Centre, group: list[Clinic], store: str
) -> None:
    assert centre("reader", "list").out == "Nobody reads the pages yet.\n"
    token = centre("reader", "add", "Robin").out.strip()
    assert len(token) > 40
    again = centre("reader", "add", "Robin")
    assert (again.code, again.out, again.err.count("\n")) == (2, "", 1)
    assert centre("reader", "list").out == f"Robin, since {utc_text(NOW)}\n"
    assert not any(token in row for (row,) in sql(store, "SELECT reader::text FROM logbook.reader"))
    assert centre("reader", "end", "Robin").code == 0
    ended = centre("reader", "end", "Robin")
    assert (ended.code, ended.out, ended.err.count("\n")) == (2, "", 1)


def test_a_foreign_name_and_a_foreign_form_are_refused(
    pages: Pages, client: FlaskClient, group: list[Clinic]
) -> None:
    for name, status in (("localhost", 200), ("127.0.0.1", 401), ("evil.example", 421)):
        assert client.get("/", base_url=f"http://{name}/").status_code == status
    for headers in ({}, {"Origin": "http://evil.example"}, {"Sec-Fetch-Site": "cross-site"}):
        assert client.post("/leave", headers=headers).status_code == 403
    assert client.get("/").status_code == 200


def test_every_page_has_one_heading_the_policy_and_nothing_of_its_own(
    client: FlaskClient, handed_over: list[Clinic]
) -> None:
    for path, status in [*((one, 200) for one in OPENED), *((one, 0) for one in NOT_THERE)]:
        answer = client.get(path)
        assert answer.status_code in ((status,) if status else (404, 422)), path
        assert len(re.findall("<h1[ >]", answer.text)) == 1, path
        assert not re.search(r"<style|style=|<script|\son\w+=|javascript:", answer.text), path
        assert not re.search(r"\bsafe(ly)?\b", text(answer), re.IGNORECASE), path
        assert len(answer.data) <= LONGEST_BYTES, path
        assert "script-src 'self'" in answer.headers["Content-Security-Policy"]
        assert answer.headers["Cache-Control"] == "no-store"
    for path in OPENED:
        assert client.post(path, headers=HERE).status_code == 405


def test_every_route_is_opened_here(pages: Pages, server: str) -> None:
    routes = create_pages(pages).url_map
    opened = {routes.bind("localhost").match(one.partition("?")[0])[0] for one in OPENED}
    assert {one.endpoint for one in routes.iter_rules()} == opened | {"static", "enter", "leave"}


def test_the_list_on_the_page_is_the_groups_list(
    client: FlaskClient, handed_over: list[Clinic], centre: Centre
) -> None:
    items = [one for one in centre("due", "--json").json["items"] if one["standing"] != "ok"]
    shown = cells(client.get("/due"))
    assert sorted((row[0], row[2], row[3].lower()) for row in shown) == sorted(
        (one["site"], one["item"], one["standing"]) for one in items
    )
    near = centre("due", "--kind", "overhaul", "--within", "9d", "--json").json["items"]
    rows = cells(client.get("/due?kind=overhaul&within=9"))
    assert [row[0] for row in rows] == [one["site"] for one in near]
    assert {row[0] for row in cells(client.get("/due?region=b"))} == {"birch-lane"}
    assert {row[0] for row in cells(client.get("/due?site=stone-mill"))} == {"stone-mill"}


@pytest.mark.parametrize(("sort", "column"), [("site", 0), ("machine", 1), ("item", 2)])
def test_the_list_is_sorted_by_a_link_and_says_by_which(
    client: FlaskClient, handed_over: list[Clinic], sort: str, column: int
) -> None:
    answer = client.get(f"/due?within=400&region=&sort={sort}")
    shown = [row[column] for row in cells(answer)]
    assert len(set(shown)) > 1
    assert shown == sorted(shown)
    assert re.findall(r'aria-sort="ascending"><a href="([^"]*)"', answer.text) == [
        f"/due?region=&amp;within=400&amp;sort={sort}&amp;page=1"
    ]


def test_the_worst_stands_first_unless_another_order_is_asked(
    client: FlaskClient, handed_over: list[Clinic]
) -> None:
    order = ["OVERDUE", "DUE", "NO RECORD", "DUE SOON", "IN ORDER"]
    for path in ("/due?within=400", "/due?within=400&sort=evil"):
        shown = [order.index(row[3]) for row in cells(client.get(path))]
        assert shown == sorted(shown)
        assert len(set(shown)) > 1


def test_an_address_that_somebody_made_up_leads_no_link_elsewhere(
    client: FlaskClient, handed_over: list[Clinic]
) -> None:
    answer = client.get("/due?_scheme=javascript&_external=1&_anchor=x&_method=POST&endpoint=leave")
    assert answer.status_code == 200
    assert all(one.startswith(("/", "#")) for one in re.findall('href="([^"]*)"', answer.text))


def test_a_sites_board_is_two_taps_away_and_tells_what_the_site_itself_tells(
    client: FlaskClient, handed_over: list[Clinic]
) -> None:
    for one in handed_over:
        (link,) = re.findall(rf'href="([^"]*)">{one.name}<', client.get("/").text)
        answer = client.get(link)
        assert answer.status_code == 200
        for machine in one("board --json").json["machines"]:
            assert machine["verdict"].capitalize() in text(answer)
            assert f"<h2>{machine['machine']}</h2>" in answer.text


def test_sites_that_are_silent_flagged_or_new_stand_first_and_say_so(
    pages: Pages, group: list[Clinic], centre: Centre, tmp_path: Path
) -> None:
    quiet, liar, new = group[0], group[1], group[2]
    for one in (quiet, liar):
        assert centre("take", str(one.segment())).code == 0
    lies, _ = past_rewritten(read(liar.segment()))
    assert centre("take", str(write(tmp_path / "lie.jsonl", lies))).code == 4
    later = NOW + timedelta(days=3)
    token = centre("reader", "add", "Robin").out.strip()
    told = cells(signed_in(replace(pages, now=lambda: later), token).get("/?sort=look"))
    assert [row[0] for row in told] == [liar.name, new.name, quiet.name]
    assert "Contradicted itself: entry 3 differs" in told[0][4]
    assert told[1][2:] == ["never", "0", "Nothing was handed over yet"]
    assert told[2][4] == ""
    later += timedelta(seconds=1)
    client = signed_in(replace(pages, now=lambda: later), token)
    told = {row[0]: row[4] for row in cells(client.get("/"))}
    assert told[quiet.name] == "Silent for 3 days"
    assert "Nothing was handed over yet" in text(client.get(f"/site?name={new.name}"))
    assert "Contradicted itself" in text(client.get(f"/site?name={liar.name}"))


def test_places_and_lots_are_those_of_the_shell(
    client: FlaskClient, handed_over: list[Clinic], centre: Centre
) -> None:
    places = centre("where", "LOT-9", "--json").json["places"]
    shown = cells(client.get("/where?written=lot-9"))
    assert [(row[0], row[3], int(row[4])) for row in shown] == [
        (one["site"], one["machine"], one["entry"]) for one in places
    ]
    lots = centre("lots", "--json").json["lots"]
    for _ in range(2):
        assert [(row[0], row[3], row[4]) for row in cells(client.get("/lots"))] == [
            (one["lot"], one["hours"], one["litres"]) for one in lots
        ]


def test_lots_are_reckoned_anew_once_a_site_handed_something_over(
    client: FlaskClient, handed_over: list[Clinic], centre: Centre
) -> None:
    before = cells(client.get("/lots"))
    assert "LOT-9" not in {row[0] for row in before}
    assert handed_over[0]("absorbent change bay1 --lot LOT-X").code == 0
    assert centre("take", str(handed_over[0].segment())).code == 0
    assert "LOT-9" in {row[0] for row in cells(client.get("/lots"))}


def test_what_a_site_wrote_is_shown_as_words_and_never_as_markup(
    client: FlaskClient, group: list[Clinic], centre: Centre
) -> None:
    name, lot = "<b>&quot;", "<img/src=x>"
    one = group[0]
    assert one(f"absorbent change bay1 --lot {lot}").code in (0, 3)
    added = centre("site", "add", name, "--uuid", "00000000-0000-4000-8000-000000000000",
                   "--region", "<i>'\"")  # fmt: skip
    assert added.code == 0, added.err
    assert centre("take", str(one.segment())).code == 0
    for path in (*OPENED, f"/where?written={lot}", "/site?name=<b>%26quot;", "/due?region=<s>"):
        assert not re.search("<(b|i|s|img)[ >/]", client.get(path).text), path


def test_a_large_group_is_told_page_by_page_each_of_which_is_small(
    client: FlaskClient, handed_over: list[Clinic], centre: Centre, store: str
) -> None:
    for statement in (
        "INSERT INTO logbook.due_thing SELECT site, n + 1000 * g, standing, due_on, item, told "
        "FROM logbook.due_thing, generate_series(1, 120) g WHERE standing <> 'ok'",
        "INSERT INTO logbook.site (name, uuid, region, added_at) "
        "SELECT 'many ' || lpad(g::text, 40, '0'), g::text, 'a region', '' "
        "FROM generate_series(1, 150) g",
        "INSERT INTO logbook.head SELECT site, 0, repeat('0', 64), NULL FROM logbook.site s "
        "WHERE NOT EXISTS (SELECT FROM logbook.head h WHERE h.site = s.site)",
    ):
        sql(store, statement)
    for path in ("/due", "/"):
        found, link = [], [path]
        while link:
            answer = client.get(link[0].replace("&amp;", "&"))
            assert len(answer.data) <= LONGEST_BYTES
            found.append(len(cells(answer)))
            link = re.findall(r'href="([^"]*)">Next page', answer.text)
        assert found[:-1] == [MOST_SHOWN] * (len(found) - 1)
        assert len(found) >= 2
        assert f"{sum(found)} rows in all" in text(answer)
    due = [one for one in centre("due", "--json").json["items"] if one["standing"] != "ok"]
    assert f"{len(due)} rows in all" in text(client.get("/due?page=9999"))


def test_a_site_that_cannot_be_read_is_named_above_the_others(
    client: FlaskClient, handed_over: list[Clinic], store: str
) -> None:
    for statement in (
        "ALTER TABLE logbook.entry DISABLE TRIGGER ALL",
        "UPDATE logbook.entry SET body = '{}' WHERE seq = 3 AND site = 1",
        "ALTER TABLE logbook.entry ENABLE TRIGGER ALL",
        "UPDATE logbook.renewal SET entries = 0",
    ):
        sql(store, statement)
    for path in ("/due", "/lots", "/site?name=alder-creek"):
        assert "NOT READ: alder-creek, so that" in text(client.get(path)), path


def test_a_store_that_does_not_answer_is_told_without_its_name(tmp_path: Path) -> None:
    told: list[str] = []
    nowhere = Store.at("postgresql://nobody@127.0.0.1:1/group")
    pages = Pages(nowhere, frozenset({"localhost"}), lambda: NOW, told.append, secure=False)
    client = create_pages(pages).test_client()
    client.set_cookie("reader", "some token")
    answer = client.get("/")
    assert (answer.status_code, "127.0.0.1" in answer.text) == (503, False)
    assert "127.0.0.1" in told[0]


def test_segments_and_pages_are_answered_at_one_address(pages: Pages, tmp_path: Path) -> None:
    door = create_app(Door(pages.store, signer_at(tmp_path / "key"), lambda: NOW, print))
    both = Client(beside_pages(door, create_pages(pages)))
    assert both.get("/health").json == {"status": "ok"}
    assert both.post("/segments").content_type == "application/problem+json"
    for path in ("/", "/segments/", "/healthy"):
        assert "Your token" in both.get(path).text
    with both.get("/static/page.css") as answer:
        assert answer.status_code == 200
