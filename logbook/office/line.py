"""The line to a group's centre: a segment goes out, and the centre's answer comes back.

HTTP/1.1 with a bearer token (RFC 6750) over TLS; refusals are problem details (RFC 9457). No proxy
is asked and no redirection followed: a ledger goes to the centre that was named, or nowhere.
"""

import json
import re
import socket
import ssl
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException, HTTPResponse, HTTPSConnection, IncompleteRead
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from logbook.errors import Act, InputError, LedgerError, LogbookError, MaybeSaved, NotSaved
from logbook.units import printable, shown

DEAD_S = 5
"""A line on which nothing is heard for so many seconds is dead; our own choice."""
ANSWER_S = 30
"""How long an answer may take, in seconds: a centre waits for its store, and reads what it took."""
LONGEST_ANSWER = 65_536
"""In bytes; a receipt has a few hundred."""
LONGEST_DETAIL = 300
"""In signs; what a centre says stands in one sentence of ours."""
TOKEN = re.compile(r"[A-Za-z0-9._~+/-]{1,500}=*", re.ASCII)
"""How a bearer token is written (RFC 6750, section 2.1)."""
HOST = re.compile(r"[A-Za-z0-9._:-]+", re.ASCII)
PATH = re.compile(r"[A-Za-z0-9._~/-]*", re.ASCII)
PORTS = {"http": 80, "https": 443}


class NotHandedOver(NotSaved):
    """The centre was not reached, or cannot take anything now."""

    lead = "Not handed over"


class MaybeHandedOver(MaybeSaved):
    """Everything was sent, and the answer was lost."""

    lead = "It is not known whether the centre took this"


class Refused(LedgerError):
    """The centre holds something else than this ledger."""

    lead = "Not handed over"


class Wanted(LogbookError):
    """The centre lacks what comes before the segment; ``entry`` is the number that it wants."""

    def __init__(self, entry: int) -> None:
        super().__init__(f"the centre wants entry {entry} next")
        self.entry = entry


def is_own(host: str) -> bool:
    """Whether a host is this very computer."""
    if host == "localhost":
        return True
    with suppress(ValueError):
        return ip_address(host).is_loopback
    return False


@dataclass(frozen=True, slots=True)
class Line:
    """Where a centre answers, and the token by which it knows the site; without a context of TLS
    others can listen."""

    host: str
    port: int
    path: str
    token: str = field(repr=False)
    context: ssl.SSLContext | None

    @classmethod
    def to(cls, url: str, token: str, trust: Path | None, *, plain: bool) -> "Line":
        """The line to a centre's address; ``plain`` allows one on which others can listen.

        ``trust`` is a file of certificates in PEM that alone are believed; without it those of
        the system are.

        Raises:
            InputError: it is no such address, token or file, or others could listen.
        """
        secure, host, port, path = _parts(url)
        if not (secure or plain or is_own(host)):
            raise InputError(
                f"over http whoever listens on the way to {host} reads the token and the entries",
                "give an address with https",
                act=Act.SEND_OPENLY,
            )
        if not TOKEN.fullmatch(token):
            raise InputError("that is no token of a centre", "copy its whole line")
        context = _believing(trust) if secure else None
        return cls(host, port, f"{path}/segments", token, context)

    def send(self, segment: bytes) -> str:
        """The note with which the centre answers to a segment.

        Raises:
            NotHandedOver: the centre was not reached, or cannot take it now.
            MaybeHandedOver: all was sent, and no answer came.
            Wanted: the centre lacks entries before it.
            Refused: the centre holds other entries.
            LogbookError: the centre refuses it otherwise, or is none.
        """
        with closing(self._connection()) as connection:
            with self._errors_in_words(NotHandedOver):
                connection.connect()
                _notice_death(connection.sock)
                connection.request("POST", self.path, segment, self._headers())
            # From here on the centre may have taken it, whatever is heard.
            with (
                self._errors_in_words(MaybeHandedOver),
                connection.getresponse() as answer,
            ):
                told = _whole(answer)
        if answer.status == 200:
            return told
        raise self._refusal(answer.status, told)

    def _connection(self) -> HTTPConnection:
        if self.context is None:
            return HTTPConnection(self.host, self.port, timeout=DEAD_S)
        return HTTPSConnection(self.host, self.port, timeout=DEAD_S, context=self.context)

    def _headers(self) -> dict[str, str]:
        return {
            "Authorization": f"Bearer {self.token}",
            "Content-Type": "application/jsonl",
            "Connection": "close",
        }

    @contextmanager
    def _errors_in_words(self, kind: type[NotHandedOver | MaybeHandedOver]) -> Iterator[None]:
        try:
            yield
        except ssl.SSLCertVerificationError as error:
            raise LogbookError(
                f"the certificate that {self.host} shows is not believed "
                f"({printable(error.verify_message)})",
                "ask whoever runs the centre for that of its issuer",
                act=Act.NAME_ISSUER,
            ) from error
        except (OSError, HTTPException, UnicodeError) as error:
            raise kind(f"{self._name}: {_why(error)}; the same again is held once") from error

    @property
    def _name(self) -> str:
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"

    def _refusal(self, status: int, told: str) -> LogbookError:
        problem = _problem(told)
        detail = printable(str(problem.get("detail", "")))[:LONGEST_DETAIL].rstrip(". ")
        if status == 401:
            return InputError(
                f"{self._name} knows no site by this token", "ask whoever runs it for a new one"
            )
        if status == 409 and type(problem.get("wanted")) is int:
            return Wanted(problem["wanted"])
        if status == 422 and type(problem.get("entry")) is int:
            return Refused(f"the centre says: {detail}")
        if status in (429, 502, 503, 504):
            return NotHandedOver(f"{self._name} cannot take it now; try again, it is held once")
        if detail and status < 500:
            return InputError(f"the centre says: {detail}")
        return LogbookError(
            f"{self._name} answers with status {status}, as no centre does", "check the address"
        )


def _parts(url: str) -> tuple[bool, str, int, str]:
    """Whether an address is over TLS, and its host, port and path without a slash at the end."""
    with suppress(ValueError):  # From a port or an address in digits that is none.
        parts = urlsplit(url)
        host, port = parts.hostname or "", parts.port or PORTS.get(parts.scheme, 0)
        more = parts.username or parts.password or parts.query or parts.fragment
        if port and not more and HOST.fullmatch(host) and PATH.fullmatch(parts.path):
            return parts.scheme == "https", host, port, parts.path.rstrip("/")
    raise InputError(
        f"{shown(url)} is not the address of a centre", "write it like https://centre.example:8443/"
    )


def _believing(trust: Path | None) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=trust)
    except OSError as error:  # That a file holds no certificate is one, too.
        raise InputError(f"{trust} holds no certificate", "name a file with one in PEM") from error


def _notice_death(line: socket.socket) -> None:
    """Notice within seconds that nobody is at the other end, also while an answer is waited for:
    left to itself, a system tries for a quarter of an hour."""
    line.settimeout(ANSWER_S)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    wanted = {
        "TCP_USER_TIMEOUT": DEAD_S * 1000,
        "TCP_KEEPIDLE": 2,
        "TCP_KEEPINTVL": 1,
        "TCP_KEEPCNT": 3,
    }
    for name, value in wanted.items():
        option = getattr(socket, name, None)
        if option is not None:  # Each system has some of them.
            line.setsockopt(socket.IPPROTO_TCP, option, value)


def _whole(answer: HTTPResponse) -> str:
    """The text of an answer, which is short and came to its end."""
    body = answer.read(LONGEST_ANSWER)
    if answer.length:
        raise IncompleteRead(body)
    return body.decode("utf-8", "replace")


def _problem(told: str) -> dict[str, Any]:
    """What problem details say; nothing where there are none."""
    with suppress(ValueError, RecursionError):
        read = json.loads(told)
        return read if isinstance(read, dict) else {}
    return {}


def _why(error: Exception) -> str:
    """What happened on the line."""
    if isinstance(error, TimeoutError):
        return "nothing was heard for too long"
    if isinstance(error, socket.gaierror):
        return "no computer has this name"
    if isinstance(error, OSError) and error.strerror:
        return printable(error.strerror).lower()
    return "what was heard is no whole answer"
