"""Requests that no page of ours sends: each is refused, and nothing is saved."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from flask import url_for

from logbook.page.world import World
from tests.conftest import Ran
from tests.page.conftest import HERE, Screen

FIELDS = {"pop_off": "open", "circuit": "adult"}


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Origin": f"{HERE}:8080"},
        {"Origin": HERE, "Sec-Fetch-Site": "cross-site"},
        {"Origin": HERE, "Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
        {"X-Nothing": "at all"},
    ],
)
def test_a_form_that_another_site_sent_is_refused(screen: Screen, headers: dict[str, str]) -> None:
    screen.sign()
    assert screen.send("/machine/bay1/begin", headers=headers, **FIELDS) == 403
    assert screen.send("/leave", headers=headers) == 403
    assert screen.client.get("/health").json["entries"] == 5


def test_a_browser_that_tells_where_a_form_comes_from_is_believed(screen: Screen) -> None:
    screen.sign()
    same = {"Sec-Fetch-Site": "same-origin"}
    assert screen.send("/machine/bay1/begin", headers=same, **FIELDS) == 200


@pytest.mark.parametrize("token", ["", "0" * 64, "é", "none"])
def test_a_form_without_the_token_of_its_device_is_refused(screen: Screen, token: str) -> None:
    screen.sign()
    assert screen.send("/machine/bay1/begin", token=token, **FIELDS) == 403


def test_the_token_of_another_device_is_refused(screen: Screen) -> None:
    screen.sign()
    token = screen.token()
    screen.client.set_cookie("device", "x" * 43)
    assert screen.send("/machine/bay1/begin", token=token, **FIELDS) == 403


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "", "127.0.0.1.x:80"])
def test_a_name_that_is_not_ours_is_refused_and_shows_nothing(screen: Screen, host: str) -> None:
    answer = screen.client.get("/", headers={"Host": host})
    assert answer.status_code in (400, 421)
    assert "bay1" not in answer.text


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:8080", "192.168.1.20:8080", "[::1]:80"])
def test_our_names_and_plain_addresses_are_answered(screen: Screen, host: str) -> None:
    assert screen.client.get("/", headers={"Host": host}).status_code == 200


def test_a_body_without_end_is_refused(screen: Screen) -> None:
    screen.sign()
    assert screen.send("/machine/bay1/begin", reference="x" * 70_000, **FIELDS) == 413
    assert "Nothing was saved" in screen.says


@pytest.mark.parametrize(
    "path",
    ["/static/../../app.py", "/static/%2e%2e/app.py", "/machine/%00", "/machine/..%2f..%2fetc",
     "/entry/0", "/entry/99", "/entry/-1", "/entry/1e3", "/entry/9999999999999999999", "/nowhere",
     "/machine/bay9", "/machine/<script>", "/machine/bay9/begin", "/machine/bay9/end"],
)  # fmt: skip
def test_a_path_that_leads_nowhere_is_told_in_words(screen: Screen, path: str) -> None:
    assert screen.get(path) == 404
    assert "<script>" not in screen.html
    assert "Traceback" not in screen.html


def test_what_somebody_typed_is_never_markup(screen: Screen) -> None:
    screen.sign()
    evil = '"><script>alert(1)</script>\u202e'
    assert screen.send("/machine/bay1/begin", species=evil, **FIELDS) == 200
    for path in ("/entry/6", "/machine/bay1", "/"):
        screen.get(path)
        assert "<script>alert" not in screen.html
        assert "\u202e" not in screen.html
    assert screen.get(f"/find?tag={evil}") == 422
    assert "<script>alert" not in screen.html


def test_every_page_allows_nothing_but_its_own_files(screen: Screen) -> None:
    for path in ("/", "/who", "/machine/bay1", "/nowhere", "/health"):
        answer = screen.client.get(path)
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "style=" not in answer.text
        assert "onclick" not in answer.text
        assert answer.headers["Cache-Control"] == "no-store"


def test_no_pin_comes_into_a_log_or_the_ledger(
    screen: Screen, capfd: pytest.CaptureFixture[str], ledger: Path
) -> None:
    screen.sign()
    screen.sign(pin="719305")
    said = capfd.readouterr()
    for secret in ("402817", "719305"):
        assert secret not in said.out + said.err
        assert secret.encode() not in ledger.read_bytes()
        assert secret not in screen.html


def test_a_page_that_only_shows_refuses_every_form_there_is(
    world: World, bay1: Callable[..., Ran], screen_of: Callable[[World], Screen]
) -> None:
    screen = screen_of(replace(world, read_only=True))
    every = [one for one in screen.client.application.url_map.iter_rules() if "POST" in one.methods]
    assert len(every) > 10
    given = {"tag": "bay1", "noun": "machine", "act": "note", "name": "daily", "key": "power"}
    given |= {"limit": "leak-flow", "unit": "bay1"}
    with screen.client.application.test_request_context():
        paths = [
            url_for(one.endpoint, _method="POST", **{
                name: 1 if name == "seq" else given.get(name, "x") for name in one.arguments
            })
            for one in every
        ]  # fmt: skip
    assert {path: screen.send(path) for path in paths} == dict.fromkeys(paths, 405)
    assert screen.client.get("/health").json["entries"] == 5
