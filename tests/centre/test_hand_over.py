"""Handing over through the network: what is sent, what is believed, and what is told when the line
or the centre fails."""

import json
import os
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from flask import Flask, Response
from werkzeug.serving import make_server

from logbook.centre.door import Door, create_app
from logbook.centre.store import Store
from logbook.ledger.chain import genesis_hash
from logbook.office import handing_over
from logbook.office.line import Line
from logbook.proof.receipt import kept
from logbook.proof.signing import signer_at
from tests.centre.conftest import Clinic, sql
from tests.centre.test_refused import Centre, state
from tests.conftest import NOW, Ran

PATIENCE_S = 60
Application = Callable[[dict[str, Any], Any], Iterable[bytes]]


@contextmanager
def answering(app: Application) -> Iterator[str]:
    """Answers at a port of this computer; its address."""
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        thread.join(PATIENCE_S)
        server.server_close()


@pytest.fixture
def door(store: str, tmp_path: Path) -> Door:
    """The door of the test's store."""
    return Door(Store.at(store), signer_at(tmp_path / "door.key"), lambda: NOW, lambda _: None)


@pytest.fixture
def url(door: Door) -> Iterator[str]:
    """The address of a centre."""
    with answering(create_app(door)) as address:
        yield address


@pytest.fixture
def hand_over(site: Clinic, token: Path, door: Door) -> Callable[..., Ran]:
    """Hands the site's ledger over to an address, by its token and the centre's key."""

    def command(address: str, *more: str) -> Ran:
        known = () if "--centre" in more else ("--centre", door.signer.public)
        return site.run("--ledger", str(site.ledger), "hand-over", address,
                        "--token-file", str(token), *known, *more)  # fmt: skip

    return command


def entries(site: Clinic) -> int:
    """How many entries a site's ledger has."""
    count: int = site("checkpoint --json").json["checkpoint"]["entries"]
    return count


def test_a_ledger_is_handed_over_and_the_receipt_is_kept(
    hand_over: Callable[..., Ran], site: Clinic, url: str, centre: Centre
) -> None:
    told = hand_over(url)
    count = entries(site)
    assert (told.code, told.err) == (0, "")
    assert told.out.startswith(f"The centre acknowledged entries 1 to {count} on ")
    assert site("board --json").json["acknowledged"]["entries"] == count
    assert centre("verify").code == 0
    assert (site.name, count) in {(name, held) for name, held, _ in state(centre)}


def test_afterwards_only_what_is_new_is_sent_and_the_key_is_known(
    hand_over: Callable[..., Ran], site: Clinic, url: str, token: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    assert hand_over(url).code == 0
    count = entries(site)
    assert site("note later --by KO").code == 0
    sent: list[bytes] = []
    send = Line.send
    monkeypatch.setattr(Line, "send", lambda line, body: sent.append(body) or send(line, body))
    for number, more in ((1, ""), (0, ""), (count + 1, "--everything")):
        told = site(f"hand-over {url} --token-file {token} {more}")
        assert (told.code, f"entries 1 to {count + 1} " in told.out) == (0, True), told
        assert len(sent.pop().splitlines()) - 2 == number
        assert sent == []


def test_a_long_ledger_goes_in_several_segments_and_goes_on_where_it_was_interrupted(
    hand_over: Callable[..., Ran], site: Clinic, url: str, centre: Centre,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(handing_over, "SEGMENT_SIGNS", 1)  # An entry is all that one holds.
    sent: list[bytes] = []
    send = Line.send

    def breaks_off(line: Line, body: bytes) -> str:
        if len(sent) == 3:
            raise KeyboardInterrupt
        sent.append(body)
        return send(line, body)

    with monkeypatch.context() as patch:
        patch.setattr(Line, "send", breaks_off)
        assert hand_over(url).code == 1
    last = kept(site.ledger)
    assert last is not None
    assert last.receipt.entries == 3
    monkeypatch.setattr(Line, "send", lambda line, body: sent.append(body) or send(line, body))
    assert hand_over(url).code == 0
    assert len(sent) == entries(site)
    assert hand_over(url, "--everything").code == 0
    assert len(sent) == 2 * entries(site)
    assert centre("verify").code == 0


def test_the_token_may_stand_in_the_environment_and_its_file_is_its_owners_alone(
    site: Clinic, url: str, token: Path, door: Door, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    words = f"hand-over {url} --centre {door.signer.public}"
    told = site(words)
    assert (told.code, "there is no token" in told.err) == (2, True)
    monkeypatch.setenv("LOGBOOK_TOKEN", token.read_text().strip())
    assert site(words).code == 0
    monkeypatch.delenv("LOGBOOK_TOKEN")
    if os.name == "posix":
        token.chmod(0o640)
        told = site(f"{words} --token-file {token}")
        assert (told.code, "not its owner's alone" in told.err) == (2, True)


def problem(status: int, **more: object) -> Flask:
    """A centre that answers everything with this."""
    app = Flask("odd", static_folder=None)
    told = json.dumps({"type": "about:blank", "title": "x", "status": status} | more)

    @app.post("/segments")
    def answer() -> Response:
        return Response(told, status, content_type="application/problem+json")

    return app


@pytest.mark.parametrize(
    ("app", "code", "words"),
    [
        (problem(401), 2, "knows no site by this token"),
        (problem(403, detail="another's"), 2, "the centre says: another's"),
        (problem(409, wanted=1), 4, "wants entry 1 next"),
        (problem(409, wanted="1"), 1, "status 409, as no centre does"),
        (problem(422, detail="torn"), 2, "the centre says: torn"),
        (problem(422, detail="entry 3 differs", entry=3), 4, "the centre says: entry 3 differs"),
        (problem(503, detail="x"), 5, "cannot take it now"),
        (problem(500, detail="a mistake"), 1, "status 500"),
        (problem(302), 1, "status 302"),
        (problem(418, detail="\x1b[2J\n\u202e" + "x" * 9000), 2, "the centre says: "),
        (problem(200), 2, "the receipt is not signed by that centre"),
        (Flask("elsewhere", static_folder=None), 1, "status 404, as no centre does"),
    ],
)
def test_whatever_a_centre_answers_is_told_in_one_sentence_and_nothing_is_remembered(
    hand_over: Callable[..., Ran], site: Clinic, app: Application, code: int, words: str
) -> None:
    with answering(app) as address:
        told = hand_over(address)
    assert (told.code, told.out, words in told.err) == (code, "", True), told
    assert told.err.count("\n") == 1
    assert told.err[:-1].isprintable()
    assert len(told.err) < 600
    assert kept(site.ledger) is None


def test_a_centre_that_is_not_there_is_told_as_one_that_was_not_reached(
    hand_over: Callable[..., Ran], site: Clinic
) -> None:
    for address in ("http://127.0.0.1:1", "https://127.0.0.1:1/", "http://[::1]:1/"):
        told = hand_over(address)
        assert (told.code, told.out) == (5, "")
        assert told.err.startswith("Not handed over: ")
        assert told.err.count("\n") == 1
    assert kept(site.ledger) is None


def test_an_answer_that_is_lost_leaves_open_what_was_taken_and_the_same_again_is_held_once(
    hand_over: Callable[..., Ran], site: Clinic, door: Door, store: str, centre: Centre
) -> None:
    app = create_app(door)

    def loses(environ: dict[str, Any], start: Any) -> Iterable[bytes]:
        note = b"".join(app(environ, lambda *_: None))
        start("200 OK", [("Content-Length", str(len(note)))])
        return [note[: len(note) // 2]]

    with answering(loses) as address:
        told = hand_over(address)
    assert (told.code, told.out) == (1, "")
    assert told.err.startswith("It is not known whether the centre took this: ")
    assert kept(site.ledger) is None
    count = entries(site)
    assert (site.name, count) in {(name, held) for name, held, _ in state(centre)}
    with answering(app) as address:
        assert hand_over(address).code == 0
    last = kept(site.ledger)
    ((note,),) = sql(store, "SELECT note FROM logbook.receipt")
    assert last is not None
    assert note.startswith(last.receipt.text())
    assert sql(store, "SELECT count(*) FROM logbook.entry") == [(count,)]


def test_a_centre_that_lost_entries_is_found_out_and_can_be_given_everything_again(
    hand_over: Callable[..., Ran], site: Clinic, url: str, door: Door, store: str, centre: Centre,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    assert hand_over(url).code == 0
    first = kept(site.ledger)
    # An old state of the store is brought back, with nothing of this site in it.
    for statement in (
        "ALTER TABLE logbook.entry DISABLE TRIGGER ALL",
        "ALTER TABLE logbook.receipt DISABLE TRIGGER ALL",
        "DELETE FROM logbook.entry", "DELETE FROM logbook.receipt",
        "UPDATE logbook.renewal SET entries = 0",
        f"UPDATE logbook.head SET entries = 0, hash = '{genesis_hash(site.uuid)}'"  # noqa: S608
        f" WHERE site = (SELECT site FROM logbook.site WHERE uuid = '{site.uuid}')",
        "ALTER TABLE logbook.entry ENABLE TRIGGER ALL",
        "ALTER TABLE logbook.receipt ENABLE TRIGGER ALL",
    ):  # fmt: skip
        sql(store, statement)
    told = hand_over(url)
    assert (told.code, "wants entry 1 next" in told.err) == (4, True)
    assert "--everything" in told.err
    assert kept(site.ledger) == first
    monkeypatch.setattr(handing_over, "SEGMENT_SIGNS", 2000)
    assert hand_over(url, "--everything").code == 0
    assert (site.name, entries(site)) in {(name, held) for name, held, _ in state(centre)}


def test_another_key_at_the_same_address_is_not_believed(
    hand_over: Callable[..., Ran], site: Clinic, url: str, tmp_path: Path
) -> None:
    other = signer_at(tmp_path / "other.key").public
    told = hand_over(url, "--centre", other)
    assert (told.code, "not signed by that centre" in told.err) == (2, True)
    assert kept(site.ledger) is None


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("https:", "is not the address of a centre"),
        ("https://", "is not the address of a centre"),
        ("http://127.0.0.1:99999", "is not the address of a centre"),
        ("http://127.0.0.1:x", "is not the address of a centre"),
        ("http://a b/", "is not the address of a centre"),
        ("http://ü.example/", "is not the address of a centre"),
        ("https://[::1/", "is not the address of a centre"),
        ("https://KO:x@centre.example/", "is not the address of a centre"),
        ("https://centre.example/?x=1", "is not the address of a centre"),
        ("https://centre.example/#x", "is not the address of a centre"),
        ("http://centre.example/", "whoever listens on the way to centre.example"),
        ("http://192.168.1.5:8080/", "whoever listens on the way to 192.168.1.5"),
    ],
)
def test_an_address_to_which_nothing_should_be_sent_is_refused(
    hand_over: Callable[..., Ran], address: str, words: str
) -> None:
    told = hand_over(address)
    assert (told.code, told.out, words in told.err) == (2, "", True), told
    assert told.err.count("\n") == 1


def test_what_goes_with_an_address_alone_is_refused_elsewhere(
    site: Clinic, tmp_path: Path, token: Path
) -> None:
    for words in (
        f"{tmp_path}/s.jsonl --plain", f"{tmp_path}/s.jsonl --token-file {token}",
        f"--receipt {token} --trust {token}", f"http://127.0.0.1:1/ --receipt {token}",
    ):  # fmt: skip
        assert site(f"hand-over {words}").code == 2
    for bad in (token, tmp_path, tmp_path / "nowhere"):
        words = f"hand-over https://127.0.0.1:1/ --token-file {token} --trust {bad}"
        assert site(words).code == 2
    told = site(f"hand-over https://127.0.0.1:1/ --token-file {token} --trust {token}")
    assert f"{token} holds no certificate" in " ".join(told.err.split())
    token.write_text("no token\n")
    told = site(f"hand-over http://127.0.0.1:1/ --token-file {token}")
    assert (told.code, "that is no token" in told.err) == (2, True)
    token.write_text("token")
    told = site(f"hand-over http://127.0.0.1:1/ --token-file {token}")
    assert (told.code, "no centre is known yet" in told.err) == (2, True)
