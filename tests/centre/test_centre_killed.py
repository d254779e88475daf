"""The centre as a process of its own, over TLS: killed, cut off and asked twice at once."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from logbook.office.line import Line, MaybeHandedOver, NotHandedOver
from logbook.proof.receipt import kept
from logbook.proof.signing import signer_at
from tests.centre.conftest import Clinic, sql
from tests.centre.test_refused import Centre, state
from tests.conftest import NOW, Ran
from tests.page.test_serving import certificate
from tests.tools import PATIENCE_S, waited

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")


class Process:
    """A centre that answers until it is told to stop, or killed."""

    def __init__(self, store: str, folder: Path) -> None:
        pem, key = folder / "page.pem", folder / "page.key"
        self.trust, self.signing_key = pem, folder / "signing.key"
        if not pem.exists():
            certificate(folder)
        said = folder / f"said-{time.monotonic_ns()}"
        words = ("centre", "--store", store, "serve", "--listen", "localhost:0",
                 "--certificate", str(pem), "--key", str(key),
                 "--signing-key", str(self.signing_key))  # fmt: skip
        with said.open("w") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-W", "error", "-u", "-m", "logbook", *words],
                stdout=out, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
            )  # fmt: skip
        waited(lambda: "shows its pages at" in said.read_text() or self.process.poll() is not None)
        assert self.process.poll() is None, said.read_text()
        self.said = said
        self.url = said.read_text().partition("shows its pages at ")[2].split()[0]

    def stop(self, number: int) -> int:
        """Send it a signal; its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)


@pytest.fixture
def serving(store: str, tmp_path: Path) -> Iterator[Callable[[], Process]]:
    """Starts a centre on the test's store."""
    started: list[Process] = []

    def start() -> Process:
        started.append(Process(store, tmp_path))
        return started[-1]

    yield start
    for one in started:
        one.stop(signal.SIGKILL)


def hand_over(site: Clinic, token: Path, to: Process) -> Ran:
    """Hand the site's ledger over to a process."""
    public = signer_at(to.signing_key).public
    return site(f"hand-over {to.url} --token-file {token} --trust {to.trust} --centre {public}")


def held(site: Clinic, centre: Centre) -> int:
    """How many entries of the site the centre holds, which it verifies."""
    assert centre("verify").code == 0
    (count,) = (entries for name, entries, _ in state(centre) if name == site.name)
    return int(count)


def entries(site: Clinic) -> int:
    """How many the site has."""
    return int(site("checkpoint --json").json["checkpoint"]["entries"])


def test_a_ledger_goes_over_tls_to_a_centre_that_stops_when_it_is_told_to(
    site: Clinic, token: Path, centre: Centre, serving: Callable[[], Process]
) -> None:
    process = serving()
    assert process.url.startswith("https://localhost:")
    told = hand_over(site, token, process)
    assert (told.code, told.err) == (0, "")
    assert held(site, centre) == entries(site)
    public = signer_at(process.signing_key).public
    stranger = site(f"hand-over {process.url} --token-file {token} --centre {public}")
    assert (stranger.code, "is not believed" in stranger.err) == (1, True)
    assert process.stop(signal.SIGTERM) == 0
    assert process.said.read_text().endswith("Stopped.\n")
    assert "Traceback" not in process.said.read_text()


def test_where_a_new_day_began_a_centre_that_serves_reads_what_is_due(
    site: Clinic, centre: Centre, store: str, serving: Callable[[], Process]
) -> None:
    assert centre("take", str(site.segment())).code == 0
    days = "SELECT day FROM logbook.renewal WHERE entries > 0"
    assert sql(store, days) == [(f"{NOW:%Y-%m-%d}",)]
    serving()
    waited(lambda: sql(store, days) > [(f"{NOW:%Y-%m-%d}",)])


def test_a_centre_that_is_killed_while_it_takes_a_segment_took_nothing_and_takes_it_again(
    site: Clinic, token: Path, centre: Centre, store: str, serving: Callable[[], Process]
) -> None:
    # The last step of the transaction stands still until it is killed.
    sql(store, "CREATE FUNCTION waits() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN PERFORM pg_sleep(600); RETURN NEW; END $$")  # fmt: skip
    sql(store, "CREATE TRIGGER waits BEFORE INSERT ON logbook.receipt "
        "FOR EACH ROW EXECUTE FUNCTION waits()")  # fmt: skip
    sleeping = ("FROM pg_stat_activity WHERE wait_event = 'PgSleep' "
                "AND datname = current_database()")  # fmt: skip
    process, body = serving(), site.segment().read_bytes()
    with ThreadPoolExecutor(1) as pool:
        told = pool.submit(line_to(process, token).send, body)
        waited(lambda: told.done() or sql(store, f"SELECT count(*) {sleeping}") == [(1,)])
        process.stop(signal.SIGKILL)
        assert isinstance(told.exception(PATIENCE_S), MaybeHandedOver)
    sql(store, f"SELECT pg_terminate_backend(pid) {sleeping}")
    waited(lambda: sql(store, f"SELECT count(*) {sleeping}") == [(0,)])
    sql(store, "DROP TRIGGER waits ON logbook.receipt")
    assert held(site, centre) == 0
    assert kept(site.ledger) is None
    assert hand_over(site, token, serving()).code == 0
    assert held(site, centre) == entries(site)


def line_to(process: Process, token: Path) -> Line:
    """The line to a process."""
    return Line.to(process.url, token.read_text().strip(), process.trust, plain=False)


@pytest.mark.parametrize("part", [0, 1, 2, 3])
def test_a_line_that_is_cut_in_the_middle_of_a_segment_leaves_nothing_there(
    site: Clinic, token: Path, centre: Centre, serving: Callable[[], Process], part: int
) -> None:
    process, body = serving(), site.segment().read_bytes()
    line = line_to(process, token)
    assert line.context is not None
    cut = body[: len(body) * part // 4]
    head = (f"POST {line.path} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {line.token}"
            f"\r\nContent-Length: {len(body)}\r\n\r\n")  # fmt: skip
    with (
        socket.create_connection((line.host, line.port), PATIENCE_S) as plain,
        line.context.wrap_socket(plain, server_hostname=line.host) as secure,
    ):
        secure.sendall(head.encode() + cut)
    assert held(site, centre) == 0
    assert hand_over(site, token, process).code == 0
    assert held(site, centre) == entries(site)
    assert "Traceback" not in process.said.read_text()


def test_several_senders_at_once_are_answered_with_one_receipt(
    site: Clinic, token: Path, centre: Centre, store: str, serving: Callable[[], Process]
) -> None:
    process, body = serving(), site.segment().read_bytes()
    line, together = line_to(process, token), threading.Barrier(4)

    def send() -> str:
        together.wait(PATIENCE_S)
        for _ in range(20):
            # On a slow computer one waits for the other longer than the store lets it.
            with suppress(NotHandedOver):
                return line.send(body)
        raise AssertionError("the centre cannot take it")

    with ThreadPoolExecutor(4) as pool:
        notes = [one.result(PATIENCE_S) for one in [pool.submit(send) for _ in range(4)]]
    assert len(set(notes)) == 1
    assert held(site, centre) == entries(site)
    assert sql(store, "SELECT count(*) FROM logbook.receipt") == [(1,)]
