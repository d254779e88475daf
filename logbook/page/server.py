"""Serving a page in the clinic's network: one process, a few threads, with TLS or without."""

import gc
import logging
import signal
import socket
import ssl
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Thread, Timer
from types import FrameType
from typing import TYPE_CHECKING, Any

from cheroot.server import HTTPConnection
from cheroot.ssl.builtin import BuiltinSSLAdapter
from cheroot.wsgi import Server

from logbook.errors import InputError, LogbookError
from logbook.office.line import is_own
from logbook.page.guard import MOST_BYTES
from logbook.units import shown

if TYPE_CHECKING:
    from wsgiref.types import WSGIApplication

THREADS = 10
"""How many requests are answered at once; our own choice for a clinic's few screens."""
WAITING = 50
WAIT_S = 10
HURRIED_S = 1
"""How long a silent connection is waited for, in seconds, and while others wait for a thread: sixty
that sent half a request held the page for a minute. Our own choice."""
LAST_S = 15
"""How long the requests at hand have until they must end when the server stops: longer than one
waits for a ledger that another program holds."""
OBJECTS = 700
"""So many new objects stand before garbage is looked for: Python's own number, which a command that
ends soon sets higher."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where a page listens."""

    host: str
    port: int

    @property
    def is_own(self) -> bool:
        """Whether only this computer can reach it."""
        return is_own(self.host)

    def url(self, port: int, *, secure: bool) -> str:
        """How a browser calls it."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"http{'s' if secure else ''}://{host}:{port}/"


def address(text: str) -> Address:
    """Read where to listen: ``127.0.0.1:8080``, ``[::1]:8080``, ``tablet.local:8080``.

    Raises:
        InputError: it is none.
    """
    host, _, port = text.rpartition(":")
    host = host.removeprefix("[").removesuffix("]")
    if not host or not port.isascii() or not port.isdigit() or int(port) > 65_535:
        raise InputError(f"{shown(text)} is no place to listen at", "write it like 127.0.0.1:8080")
    return Address(host, int(port))


class _Quick(BuiltinSSLAdapter):
    """Leaves the greeting of TLS to the thread that answers: one silent client held up all."""

    def wrap(self, sock: Any) -> Any:
        """The socket with TLS over it, and what the application may know of it."""
        wrapped = self.context.wrap_socket(sock, do_handshake_on_connect=False, server_side=True)
        return wrapped, {"wsgi.url_scheme": "https", "HTTPS": "on"}


class _Connection(HTTPConnection):
    """Lets go of what it could not send: Python 3.13 tells of it for each client that went away."""

    def close(self) -> None:
        """Called by cheroot for a connection that ends."""
        super().close()
        with suppress(OSError, ValueError):
            self.wfile.close()


class _Server(Server):
    """Tells its own mistakes alone: what a client did wrong is no news. A silent client has less
    time while others wait."""

    ConnectionClass = _Connection

    def process_conn(self, conn: HTTPConnection) -> None:
        """Called by cheroot for a connection that is new, or says something again."""
        conn.socket.settimeout(HURRIED_S if self.requests.qsize else WAIT_S)
        super().process_conn(conn)

    def error_log(self, msg: str = "", level: int = logging.INFO, traceback: bool = False) -> None:
        """Called by cheroot for whatever it notices."""
        if level >= logging.ERROR and not isinstance(sys.exc_info()[1], OSError):
            super().error_log(msg, level, traceback)


def serve(
    app: "WSGIApplication",
    where: Address,
    certificate: tuple[Path, Path] | None,
    ready: Callable[[str], None],
    lasting_s: float | None = None,
    *,
    longest_body_bytes: int | None = MOST_BYTES,
) -> None:
    """Answer until Ctrl-C or SIGTERM, or for so long; what is being saved then is saved and told
    first.

    ``ready`` is called with the address once it can be asked for. Without a longest body the
    application refuses what is too long, in its own words.

    Raises:
        InputError: the certificate and key do not fit.
        LogbookError: it cannot listen there.
    """
    server = _Server(
        (where.host, where.port), app, numthreads=THREADS, request_queue_size=WAITING,
        timeout=WAIT_S, shutdown_timeout=LAST_S,
    )  # fmt: skip
    server.max_request_body_size = longest_body_bytes or 0
    server.max_request_header_size = MOST_BYTES
    if certificate is not None:
        server.ssl_adapter = _tls(*certificate)
    _refuse_taken(where)
    try:
        server.prepare()
    except OSError as error:
        raise _not_there(where, error) from error
    # It runs for months: what nobody holds any more is dropped soon, and what it is made of, which
    # stays, is not looked through again each time.
    gc.freeze()
    gc.set_threshold(OBJECTS)
    with _stopped(server, lasting_s):
        ready(where.url(server.bind_addr[1], secure=certificate is not None))
        server.serve()


def _refuse_taken(where: Address) -> None:
    """Try the place first: cheroot would leave its socket open where another program has it."""
    try:
        found = socket.getaddrinfo(where.host, where.port, type=socket.SOCK_STREAM)
        family, kind, protocol, _, place = found[0]
        with socket.socket(family, kind, protocol) as tried:
            if sys.platform != "win32":
                tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind(place)
    except OSError as error:
        raise _not_there(where, error) from error


def _not_there(where: Address, error: OSError) -> LogbookError:
    return LogbookError(
        f"nothing can listen at {where.host}:{where.port}: {error.strerror or error}"
    )


def _tls(certificate: Path, key: Path) -> BuiltinSSLAdapter:
    try:
        adapter = _Quick(str(certificate), str(key))
    except (OSError, ssl.SSLError) as error:
        raise InputError(
            f"{certificate} and {key} are no certificate with its key", "name both files in PEM"
        ) from error
    adapter.context.minimum_version = ssl.TLSVersion.TLSv1_2
    return adapter


@contextmanager
def _stopped(server: Server, lasting_s: float | None) -> Iterator[None]:
    """Ctrl-C stops it, and SIGTERM, by which a system stops its services; or its time is over.

    Another thread stops it, because an exception that a signal raises may be lost on its way.
    """
    stopping: list[Thread] = []

    def stop(_number: int, _frame: FrameType | None) -> None:
        if not stopping:
            stopping.append(Thread(target=server.stop, name="stopping"))
            stopping[0].start()

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    end = Timer(lasting_s or 0, stop, (0, None))
    end.daemon = True
    if lasting_s is not None:
        end.start()
    try:
        yield
    finally:
        end.cancel()
        if not stopping:
            server.stop()
        for one in stopping:
            one.join()
        for number, handler in before.items():
            signal.signal(number, handler)
