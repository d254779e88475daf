"""The page as a process of its own: where it listens, with TLS, and how it stops."""

import gc
import json
import os
import signal
import socket
import sqlite3
import ssl
import subprocess
import sys
import time
import weakref
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection, HTTPResponse, HTTPSConnection
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from flask import Flask

from logbook import cli
from logbook.ledger.store import new_id
from logbook.office.pins import Pins
from logbook.page import server
from tests.conftest import Ran
from tests.page.conftest import PIN

PATIENCE_S = 60
Served = Callable[..., "Page"]
posix = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")


class Circle:
    """What holds itself, so that only a search for garbage finds that nobody else does."""

    def __init__(self) -> None:
        self.itself = self


class Page:
    """The program, serving a ledger until it is told to stop."""

    def __init__(self, *arguments: str, said: Path) -> None:
        self._said = said
        with said.open("w") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-W", "error", "-u", "-m", "logbook", *arguments],
                stdout=out, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
            )  # fmt: skip
        until = time.monotonic() + PATIENCE_S
        while "The page is at" not in self.says:
            assert self.process.poll() is None, self.says
            assert time.monotonic() < until, self.says
            time.sleep(0.05)
        self.url = self.says.partition("The page is at ")[2].split()[0]
        self.port = int(self.url.rstrip("/").rpartition(":")[2])

    @property
    def says(self) -> str:
        return self._said.read_text()

    def stop(self, number: int = signal.SIGTERM) -> int:
        if self.process.poll() is None:
            self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)


@pytest.fixture
def served(bay1: Callable[..., Ran], ledger: Path, tmp_path: Path) -> Iterator[Served]:
    """Serves the test's ledger on a free port of this computer."""
    pages: list[Page] = []

    def serve(*options: str, listen: str = "127.0.0.1:0") -> Page:
        words = ("--ledger", str(ledger), "serve", "--listen", listen, *options)
        pages.append(Page(*words, said=tmp_path / f"said{len(pages)}"))
        return pages[-1]

    yield serve
    for page in pages:
        page.stop(signal.SIGKILL)


def asked(connection: HTTPConnection, path: str, method: str = "GET") -> HTTPResponse:
    connection.request(method, path)
    return connection.getresponse()


def health(page: Page) -> Any:
    with closing(HTTPConnection("127.0.0.1", page.port, timeout=PATIENCE_S)) as connection:
        return json.loads(asked(connection, "/health").read())


@posix
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_page_is_served_until_it_is_told_to_stop(served: Served, number: int) -> None:
    page = served()
    assert page.url == f"http://127.0.0.1:{page.port}/"
    assert health(page)["status"] == "ok"
    assert page.stop(number) == 0
    assert page.says.endswith("Stopped.\n")
    assert "Traceback" not in page.says


def test_a_page_that_runs_for_months_soon_drops_what_nobody_holds() -> None:
    there: list[bool] = []

    def ready(_url: str) -> None:
        circle = weakref.ref(Circle())
        there.append(circle() is not None)
        many = [[n] for n in range(20_000)]
        there.append(circle() is not None)
        assert len(many) == 20_000

    usual = gc.get_threshold()
    gc.set_threshold(cli.OBJECTS)
    try:
        server.serve(Flask("page"), server.address("127.0.0.1:0"), None, ready, lasting_s=0)
    finally:
        gc.set_threshold(*usual)
        gc.unfreeze()
    assert there == [True, False]


@posix
def test_what_is_being_recorded_when_it_is_stopped_is_told_first(
    served: Served, ledger: Path
) -> None:
    page = served()
    with closing(sqlite3.connect(ledger, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")  # Even who reads waits for it.
        with (
            ThreadPoolExecutor(1) as pool,
            closing(HTTPConnection("127.0.0.1", page.port, timeout=PATIENCE_S)) as connection,
        ):
            answer = pool.submit(lambda: asked(connection, "/health").status)
            time.sleep(0.3)
            page.process.send_signal(signal.SIGTERM)
            other.execute("ROLLBACK")
            assert answer.result(PATIENCE_S) == 200
    assert page.process.wait(PATIENCE_S) == 0


def test_a_place_that_is_taken_is_told_in_a_sentence(
    served: Served, bay1: Callable[..., Ran]
) -> None:
    page = served()
    ran = bay1("serve", "--listen", f"127.0.0.1:{page.port}")
    assert ran.code == 1
    assert ran.err.startswith("Not done, nothing saved: nothing can listen at 127.0.0.1:")
    assert ran.err.count("\n") == 1


def test_beyond_this_computer_it_says_what_plain_http_shows(served: Served) -> None:
    assert "whoever listens in this network" in served(listen="0.0.0.0:0").says
    assert "whoever listens" not in served().says


def test_two_pages_serve_one_ledger(served: Served) -> None:
    first, second = served(), served("--read-only")
    assert health(first) == health(second)


def certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate that this computer makes for itself, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(1).not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    paths = folder / "page.pem", folder / "page.key"
    paths[0].write_bytes(made.public_bytes(serialization.Encoding.PEM))
    paths[1].write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return paths


def test_with_a_certificate_it_is_served_over_tls_and_a_silent_client_holds_up_nobody(
    served: Served, tmp_path: Path
) -> None:
    pem, key = certificate(tmp_path)
    page = served("--certificate", str(pem), "--key", str(key), listen="127.0.0.1:0")
    assert page.url.startswith("https://")
    trusting = ssl.create_default_context(cafile=pem)
    silent = [socket.create_connection(("127.0.0.1", page.port)) for _ in range(3)]
    began = time.monotonic()
    with closing(
        HTTPSConnection("localhost", page.port, context=trusting, timeout=PATIENCE_S)
    ) as connection:
        answer = asked(connection, "/who")
        assert answer.status == 200
        assert "Secure" in str(answer.headers["Set-Cookie"])
        assert answer.version == 11
    assert time.monotonic() - began < 5
    for one in silent:
        one.close()
    with closing(socket.create_connection(("127.0.0.1", page.port), PATIENCE_S)) as plain:
        plain.sendall(b"GET /who HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert b"200 OK" not in plain.recv(1000)
    assert "Traceback" not in page.says


@posix
def test_sixty_that_send_half_a_request_hold_up_the_others_for_seconds_alone(
    served: Served,
) -> None:
    page = served()
    half = [socket.create_connection(("127.0.0.1", page.port)) for _ in range(60)]
    for one in half:
        one.sendall(b"GET / HTTP/1.1\r\nHost: 127")
    began = time.monotonic()
    assert health(page)["status"] == "ok"
    # Each thread waits for one of them as long as is usual, and for five more in a hurry.
    assert time.monotonic() - began < 40
    for one in half:
        one.close()


def test_a_demo_is_shown_as_a_page_at_which_somebody_signs_already(tmp_path: Path) -> None:
    page = Page("demo", str(tmp_path / "demo"), "--serve", "--listen", "127.0.0.1:0",
                said=tmp_path / "said")  # fmt: skip
    try:
        with closing(HTTPConnection("127.0.0.1", page.port, timeout=PATIENCE_S)) as connection:
            board = asked(connection, "/").read().decode()
        assert "signs" in board
        assert "As recorded at 2026-03-06" in board
    finally:
        page.stop(signal.SIGKILL)


class Caller:
    """Somebody at a device before a page that is a process of its own; keeps the cookies."""

    def __init__(self, page: Page) -> None:
        self.url = page.url.rstrip("/")
        self.opener: OpenerDirector = build_opener(HTTPCookieProcessor(CookieJar()))
        self.says = ""

    def get(self, path: str) -> int:
        return self._asked(Request(self.url + path))  # noqa: S310  # Our own server's.

    def send(self, path: str, **fields: str) -> int:
        self.get("/who")
        token = self.says.partition('name="token" value="')[2].partition('"')[0]
        told = urlencode({"token": token, "identity": new_id()} | fields).encode()
        headers = {"Sec-Fetch-Site": "same-origin"}
        return self._asked(Request(self.url + path, told, headers))  # noqa: S310

    def _asked(self, request: Request) -> int:
        try:
            with self.opener.open(request, timeout=PATIENCE_S) as answer:
                self.says = answer.read().decode()
                return int(answer.status)
        except HTTPError as error:
            self.says = error.read().decode()
            return error.code


def test_a_server_that_is_killed_mid_walk_goes_on_with_every_answer(
    served: Served, ledger: Path
) -> None:
    Pins.beside(ledger).make("KO", "sign", PIN)
    walk, path = new_id(), "/machine/bay1/check/daily"
    for number, key in enumerate(("backup-ventilation", "flowmeters")):
        page = served()
        caller = Caller(page)
        assert caller.send("/who", initials="KO", pin=PIN) == 200
        if number:
            caller.get(path)
            assert "1 item answered" in caller.says
        told = {"identity": walk, "state": "passed"}
        assert caller.send(f"{path}/item/{key}", **told) == 200
        page.stop(signal.SIGKILL)
    caller = Caller(served())
    caller.get(path)
    assert "2 items answered" in caller.says


@posix
def test_a_form_that_is_being_saved_when_it_is_stopped_is_saved_and_told(
    served: Served, ledger: Path
) -> None:
    Pins.beside(ledger).make("KO", "sign", PIN)
    page = served()
    caller = Caller(page)
    assert caller.send("/who", initials="KO", pin=PIN) == 200
    caller.get("/who")
    token = caller.says.partition('name="token" value="')[2].partition('"')[0]
    told = urlencode({"token": token, "identity": new_id(), "text": "squeaks"}).encode()
    (cookies,) = [one for one in caller.opener.handlers if isinstance(one, HTTPCookieProcessor)]
    sent = {
        "Cookie": "; ".join(f"{one.name}={one.value}" for one in cookies.cookiejar),
        "Sec-Fetch-Site": "same-origin",
        "Content-Type": "application/x-www-form-urlencoded",
    }
    with closing(sqlite3.connect(ledger, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with (
            ThreadPoolExecutor(1) as pool,
            closing(HTTPConnection("127.0.0.1", page.port, timeout=PATIENCE_S)) as connection,
        ):
            connection.request("POST", "/machine/bay1/note", told, sent)
            answer = pool.submit(connection.getresponse)
            time.sleep(0.5)
            page.process.send_signal(signal.SIGTERM)
            time.sleep(0.2)
            other.execute("ROLLBACK")
            assert answer.result(PATIENCE_S).status == 303
        assert page.process.wait(PATIENCE_S) == 0
        assert other.execute("SELECT count(*) FROM entry").fetchone() == (6,)


def raw(page: Page, *sent: bytes) -> bytes:
    """What comes back for bytes that no browser sends."""
    with closing(socket.create_connection(("127.0.0.1", page.port), PATIENCE_S)) as plain:
        got = b""
        try:
            for one in sent:
                plain.sendall(one)
            while more := plain.recv(65_536):
                got += more
        except ConnectionError:
            pass  # It hung up before everything was sent, which is an answer, too.
        return got


def test_what_no_browser_sends_is_refused_by_the_server_and_it_goes_on(
    served: Served, ledger: Path
) -> None:
    Pins.beside(ledger).make("KO", "sign", PIN)
    page = served()
    caller = Caller(page)
    assert caller.send("/who", initials="KO", pin="000000") == 403
    assert caller.send("/who", initials="KO", pin=PIN) == 200
    post = b"POST /machine/bay1/note HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n"
    form = b"Content-Type: application/x-www-form-urlencoded\r\n"
    chunks = b"".join(b"1000\r\n" + b"x" * 4096 + b"\r\n" for _ in range(40))
    for sent in (
        (post + form + b"Content-Length: 70000\r\n\r\n", b"x" * 70_000),
        (post + form + b"Content-Length: -5\r\n\r\n", b""),
        (post + form + b"Transfer-Encoding: chunked\r\n\r\n", chunks + b"0\r\n\r\n"),
        (post + b"X-Long: " + b"x" * 70_000 + b"\r\n\r\n",),
        (b"GET /../../etc/passwd HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n",),
        (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",),
        (b"GET / HTTP/1.1\r\nConnection: close\r\n\r\n",),
    ):
        got = raw(page, *sent)
        assert not got or got.startswith(b"HTTP/1.1 4"), (sent[0][:60], got[:200])
        assert b"Traceback" not in got
    assert health(page)["entries"] == 5
    assert PIN not in page.says
    assert "000000" not in page.says
    assert "Traceback" not in page.says
