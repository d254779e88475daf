"""Handing the ledger over to a group's centre."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from logbook.cli.failures import say
from logbook.cli.options import FILLED

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from logbook.cli.desk import Desk
    from logbook.office.line import Line
    from logbook.office.office import Opened
    from logbook.proof.receipt import Receipt

F = TypeVar("F", bound=Callable[..., Any])
FILE = click.Path(path_type=Path, dir_okay=False)
TOKEN = "LOGBOOK_TOKEN"  # noqa: S105  # The name of a variable.


class Target(click.Path):
    """The file to write, or the address of a centre."""

    name = "target"

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The address as it is written, or the file's path."""
        if isinstance(value, str) and re.match("https?:", value, re.IGNORECASE):
            return value
        return super().convert(value, param, ctx)


def line_options(command: F) -> F:
    """The options of whatever speaks with a centre: by which token, and whom it believes."""
    token = click.option(
        "--token-file", type=FILE, help=f"The site's token (or set {TOKEN} to it)."
    )
    trust = click.option("--trust", type=FILE, help="The centre's certificate or its issuer's.")
    plain = click.option("--plain", is_flag=True, help="Over http, where others may listen.")
    return token(trust(plain(command)))


@click.command("hand-over")
@click.argument("target", type=Target(path_type=Path, dir_okay=False), required=False)
@click.option("--receipt", type=FILE, help="Read the centre's receipt instead.")
@click.option("--centre", type=FILLED, metavar="KEY", help="Its public key, at the first receipt.")
@click.option("--everything", is_flag=True, help="Also what the centre acknowledged already.")
@click.option(
    "--with-references", is_flag=True, help="Also where entries of old hold patients' references."
)
@line_options
@click.pass_obj
def hand_over(
    desk: "Desk", target: Path | str | None, receipt: Path | None, centre: str | None,
    everything: bool, with_references: bool, token_file: Path | None, trust: Path | None,
    plain: bool,
) -> None:  # fmt: skip
    """Hand the ledger over to a group's centre: to its address, or as a file on a stick.

    Do it as often as you like: what the centre holds already it compares. Its receipt is held
    against the ledger; the next time only what is new is sent or written. That of a stick is read
    back with --receipt.

    \b
    Examples:
      logbook hand-over https://centre.example:8443/ --token-file centre.token
      logbook hand-over /media/stick/alder-creek.jsonl
      logbook hand-over --receipt /media/stick/receipt.txt
    """
    address = target if isinstance(target, str) else None
    if (target is None) == (receipt is None):
        raise click.UsageError(
            "name the centre's address or the file to write, or its receipt with --receipt"
        )
    if centre and not (receipt or address):
        raise click.UsageError("--centre goes with --receipt or an address; give both")
    if (token_file or trust or plain) and not address:
        raise click.UsageError("--token-file, --trust and --plain go with a centre's address")
    if receipt:
        _read_receipt(desk, receipt, centre)
    elif address:
        line = line_to(address, token_file, trust, plain=plain)
        _send(desk, line, centre, everything=everything, with_references=with_references)
    elif isinstance(target, Path):
        _write_segment(desk, target, everything=everything, with_references=with_references)


def line_to(address: str, token_file: Path | None, trust: Path | None, *, plain: bool) -> "Line":
    """The line to a centre, with the token that its file or the environment holds.

    Raises:
        UsageError: there is no token.
        InputError: others can read its file, or it is none.
    """
    import os

    from logbook.office.line import Line

    token = _token_in(token_file) if token_file else os.environ.get(TOKEN)
    if not token:
        raise click.UsageError(
            f"there is no token; name its file with --token-file, or set {TOKEN} to it"
        )
    return Line.to(address, token, trust, plain=plain)


def _token_in(file: Path) -> str:
    import os

    from logbook.errors import InputError
    from logbook.ledger.kept import read_small

    told = read_small(file)
    if told is None:
        raise InputError(f"{file} cannot be read", "name the file that holds the site's token")
    if os.name == "posix" and file.stat().st_mode & 0o077:
        raise InputError(f"{file} is not its owner's alone", "chmod 600 it, as a token is a key")
    return told.strip()


def _read_receipt(desk: "Desk", file: Path, centre: str | None) -> None:
    from logbook.errors import InputError
    from logbook.ledger.kept import read_small
    from logbook.proof.receipt import acknowledge, key_for

    note = read_small(file)
    if note is None:
        raise InputError(f"{file} cannot be read", "name the file that the centre gave")
    with desk.reading() as book, receipts_can_be_checked():
        told = acknowledge(book.connection, desk.path, note, key_for(desk.path, centre))
    _tell(told, book.zone)


def _tell(told: "Receipt", zone: "ZoneInfo") -> None:
    from logbook.times import local_text

    at = local_text(told.at, zone)
    say(f"The centre acknowledged entries 1 to {told.entries} on {at}. They are this ledger's own.")


@contextmanager
def receipts_can_be_checked() -> Iterator[None]:
    """Say in a sentence where what checks signatures is not installed."""
    from logbook.errors import LogbookError

    try:
        yield
    except ImportError:
        raise LogbookError(
            "checking a receipt needs more than a clinic does",
            "install gas-machine-logbook[centre]",
        ) from None


def _send(
    desk: "Desk", line: "Line", centre: str | None, *, everything: bool, with_references: bool
) -> None:
    from logbook.office.handing_over import hand_over as answer

    key = _key_of(desk, centre)
    with desk.reading() as book:
        _, references = _leaving(desk, book, key, everything=everything)
    if not with_references:
        _ask_for_references(references)
    _tell(answer(desk.office(), line, key, everything=everything), book.zone)


def _key_of(desk: "Desk", centre: str | None) -> str:
    """The centre's public key, told or kept, which is read before anything is sent."""
    from logbook.proof.receipt import key_for

    key = key_for(desk.path, centre)
    with receipts_can_be_checked():
        from logbook.proof.signing import read_key

        read_key(key)
    return key


def _leaving(desk: "Desk", book: "Opened", key: str | None, *, everything: bool) -> tuple[int, int]:
    """After which entry the ledger is handed over, and how many of those hold references."""
    from logbook.proof.receipt import acknowledged_entries
    from logbook.proof.segment import references_in

    after = 0 if everything else acknowledged_entries(book.connection, desk.path, key)
    return after, references_in(book.connection, after)


@contextmanager
def by_itself(
    desk: "Desk", address: str, centre: str | None, token_file: Path | None, trust: Path | None, *,
    plain: bool,
) -> Iterator[None]:  # fmt: skip
    """Hand over by itself meanwhile, in a thread of its own.

    Raises:
        InputError: the address, the token or the centre's key is not there, or entries hold
            references, about which a person is asked.
    """
    from logbook.errors import InputError
    from logbook.office.beside import beside
    from logbook.office.by_itself import ByItself

    line, key = line_to(address, token_file, trust, plain=plain), _key_of(desk, centre)
    with desk.reading() as book:
        _, references = _leaving(desk, book, key, everything=False)
    if references:
        raise InputError(
            "entries hold patients' references that would leave the clinic",
            "hand over once by hand, where you are asked",
        )
    with beside(ByItself(desk.office(), line, key, partial(say, err=True))):
        yield


def _write_segment(desk: "Desk", target: Path, *, everything: bool, with_references: bool) -> None:
    from logbook.ledger.file import new_file
    from logbook.ledger.store import head
    from logbook.proof.segment import segment_lines

    with desk.reading() as book:
        after, references = _leaving(desk, book, None, everything=everything)
    if not with_references:
        _ask_for_references(references)
    with desk.reading(long=True) as book, new_file(target, "a segment") as part:
        count, _ = head(book.connection)
        with part.open("w", encoding="ascii", newline="\n") as file:
            file.writelines(segment_lines(book.connection, after))
    if after == count:
        say(f"Wrote {target}: nothing is new since entry {count}, but the site is heard.")
    else:
        say(f"Wrote entries {after + 1} to {count} to {target}. No name of a person is in it.")


def _ask_for_references(held: int) -> None:
    """References that stand in entries themselves leave only if a person says so.

    Raises:
        InputError: somebody said no, or nobody can be asked.
    """
    from logbook.cli.desk import has_terminal
    from logbook.errors import InputError

    if not held:
        return
    entries = "1 entry holds" if held == 1 else f"{held} entries hold"
    told = f"{entries} a patient's reference that would leave the clinic"
    if not (has_terminal() and click.confirm(f"{told[0].upper()}{told[1:]}. Hand over?")):
        raise InputError(told, "add --with-references where the centre may read them")
