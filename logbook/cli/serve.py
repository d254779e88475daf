"""Serving the page at the machine."""

from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from logbook.cli.handing import by_itself, line_options
from logbook.cli.options import FILLED

if TYPE_CHECKING:
    from logbook.cli.desk import Desk
    from logbook.office.office import Office
    from logbook.page.signing import Signer

F = TypeVar("F", bound=Callable[..., Any])
PLACE = "127.0.0.1:8080"
PLAIN = (
    "Without a certificate whoever listens in this network reads PINs and entries on their way, "
    "and can change them."
)
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


def server_options(command: F) -> F:
    """The options of whatever is served: where, and with which certificate."""
    listen = click.option("--listen", default=PLACE, metavar="HOST:PORT", help=f"Where ({PLACE}).")
    certificate = click.option(
        "--certificate", type=FILE, help="Certificate in PEM, for HTTPS; with --key."
    )
    key = click.option("--key", type=FILE, help="The certificate's key in PEM.")
    return listen(certificate(key(command)))


def pair_of(certificate: Path | None, key: Path | None) -> tuple[Path, Path] | None:
    """A certificate with its key; None without one."""
    if (certificate is None) != (key is None):
        raise click.UsageError("give --certificate and --key together")
    return (certificate, key) if certificate and key else None


@click.command()
@server_options
@click.option("--name", "names", multiple=True, help="Another name by which devices call it.")
@click.option("--read-only", is_flag=True, help="Show everything, record nothing.")
@click.option("--hand-over", "address", type=FILLED, metavar="ADDRESS",
              help="Hand over to this centre by itself.")  # fmt: skip
@click.option("--centre", type=FILLED, metavar="KEY", help="Its public key, at the first receipt.")
@line_options
@click.pass_obj
def serve(
    desk: "Desk", listen: str, names: tuple[str, ...], read_only: bool, certificate: Path | None,
    key: Path | None, address: str | None, centre: str | None, token_file: Path | None,
    trust: Path | None, plain: bool,
) -> None:  # fmt: skip
    """Serve the page at the machine, for tablets, telephones and screens.

    Only this computer reaches it unless --listen names an address of the network. People sign
    with their PINs: logbook staff pin. With --hand-over what is new goes to a group's centre every
    quarter of an hour, never in the way of a save.

    \b
    Examples:
      logbook serve
      logbook serve --listen 192.168.1.20:8443 --certificate page.pem --key page.key
    """
    pair = pair_of(certificate, key)
    with desk.reading():
        pass  # What is no ledger is told here, and not to whoever asks for the first page.
    if not address and (centre or token_file or trust or plain):
        raise click.UsageError("--centre, --token-file, --trust and --plain go with --hand-over")
    over = by_itself(desk, address, centre, token_file, trust, plain=plain) if address else None
    with over or nullcontext():
        run_page(desk.office(), listen, names, pair, read_only=read_only)


def run_page(
    office: "Office", listen: str, names: "tuple[str, ...]" = (),
    certificate: "tuple[Path, Path] | None" = None, *, read_only: bool = False,
    demo: "Signer | None" = None,
) -> None:  # fmt: skip
    """Answer at an address until somebody stops it; in a ``demo`` everybody signs so."""
    import time

    from logbook.office.pins import Pins
    from logbook.page.app import create_app
    from logbook.page.feed import address as calendar_address
    from logbook.page.server import address, serve
    from logbook.page.signing import Signing
    from logbook.page.world import World

    where, pins = address(listen), Pins.beside(office.ledger)
    world = World(
        office=office,
        signing=Signing(pins, time.monotonic),
        key=pins.key(),
        names=known_names(where.host, names),
        read_only=read_only,
        secure=certificate is not None,
        demo=demo,
    )

    def ready(url: str) -> None:
        click.echo(f"The page is at {url} Ctrl-C stops it.")
        click.echo(f"For a calendar that renews itself: {url}{calendar_address(world.key)}")
        if not where.is_own and certificate is None:
            click.echo(PLAIN, err=True)

    serve(create_app(world), where, certificate, ready)
    click.echo("Stopped.")


def known_names(host: str, names: "tuple[str, ...]") -> frozenset[str]:
    """The names by which a page may be asked for: the computer's own, and those that are told."""
    import re
    import socket

    from logbook.errors import InputError
    from logbook.units import shown

    for name in names:
        if not re.fullmatch(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*", name):
            raise InputError(
                f"{shown(name)} is no name of a computer", "write it like tablet.local"
            )
    own = socket.gethostname().lower()
    plain = own.partition(".")[0]
    return frozenset(
        {"localhost", host.lower(), own, plain, f"{plain}.local", *map(str.lower, names)}
    )
