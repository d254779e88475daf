"""What a centre takes: the sites, their tokens, and their segments, from a file or the network."""

import shlex
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from logbook.cli.failures import say
from logbook.cli.group_store import clock, with_store
from logbook.cli.options import FILLED
from logbook.cli.serve import known_names, pair_of, server_options

if TYPE_CHECKING:
    from uuid import UUID

    from logbook.centre.store import Store
    from logbook.cli.desk import Desk

NEW_FILE = click.Path(path_type=Path, dir_okay=False)
RENEWED_S = 15 * 60
"""So often it is looked where a new day began, in seconds; our own choice."""
PLAIN = (
    "Without a certificate whoever listens in this network reads tokens and entries on their way, "
    "and can change them."
)


@click.group()
def site() -> None:
    """The sites whose ledgers are taken.

    \b
    Examples:
      logbook centre site add alder-creek --uuid 2f1c7f0e-6a5e-4a39-9b61-0c7f0b3c5d11
      logbook centre site add birch-lane --uuid 7d0b8a54-3c1e-4f0e-8a3f-5a1d2c6b9e22 --region north
    """


@site.command()
@click.argument("name", type=FILLED)
@click.option(
    "--uuid", required=True, type=click.UUID, help="The ledger's identity, in its segment."
)
@click.option("--region", type=FILLED, help="Where it is, in your own words.")
@with_store
def add(store: "Store", name: str, uuid: "UUID", region: str | None) -> None:
    """Make a site known, so that its ledger can be taken.

    \b
    Examples:
      logbook centre site add alder-creek --uuid 2f1c7f0e-6a5e-4a39-9b61-0c7f0b3c5d11
      logbook centre site add birch-lane --uuid 7d0b8a54-3c1e-4f0e-8a3f-5a1d2c6b9e22 --region north
    """
    from logbook.centre.adding import add_site

    one = add_site(store, name, str(uuid), region, clock())
    say(
        f"Added {one.name}. It hands its ledger over with: logbook hand-over segment.jsonl, or "
        f"through the network, with a token from: centre site token {shlex.quote(one.name)}"
    )


@site.command()
@click.argument("name", type=FILLED)
@click.option("--end", is_flag=True, help="End it; a new one is not made.")
@with_store
def token(store: "Store", name: str, end: bool) -> None:
    """Make a token, by which a site is known in the network.

    It is shown this once, and the store keeps a digest alone. The token before it ends.

    \b
    Examples:
      logbook centre site token alder-creek
      logbook centre site token alder-creek --end
    """
    from logbook.centre.adding import end_token, new_token

    if end:
        end_token(store, name)
        say(f"The token of {name} counts no longer.")
    else:
        click.echo(new_token(store, name))
        say("Put it into a file at the site that its owner alone reads. It is not shown again.",
            err=True)  # fmt: skip


@click.command()
@click.argument("segment", type=NEW_FILE)
@click.option("--key", type=NEW_FILE, help="The signing key.")
@click.option("--receipt", type=NEW_FILE, help="Write it here.")
@with_store
def take(store: "Store", segment: Path, key: Path | None, receipt: Path | None) -> None:
    """Take a segment over from a file, and print the signed receipt.

    A segment that contradicts what its site handed over before is refused (exit 4), and the site
    is flagged.

    \b
    Examples:
      logbook centre take segment.jsonl
      logbook centre take /media/stick/segment.jsonl --receipt /media/stick/receipt.txt
    """
    from logbook.centre.each import for_each
    from logbook.centre.renewing import renew
    from logbook.centre.taking import take as answer
    from logbook.cli.desk import own_folder
    from logbook.ledger.disk import write_private
    from logbook.proof.segment import read_segment
    from logbook.proof.signing import signer_at

    with segment.open(encoding="utf-8", errors="replace", newline="\n") as lines:
        read = read_segment(lines)
    now = clock()
    taken = answer(store, read, signer_at(key or own_folder() / "centre.key"), now)
    if receipt:
        write_private(receipt, taken.note)
    click.echo(taken.note, nl=False)
    for one in for_each([taken.site], lambda site: renew(store, site, now)):
        # What was taken stays taken; whoever asks next reads it.
        say(f"What is due there is read at the next question: {one.why}.", err=True)


@click.command("key")
@click.option("--key", type=NEW_FILE, help="The signing key.")
def public_key(key: Path | None) -> None:
    """The public key by which sites check receipts.

    A key is made where there is none.

    \b
    Examples:
      logbook centre key
      logbook centre key --key /etc/group/centre.key
    """
    from logbook.cli.desk import own_folder
    from logbook.proof.signing import signer_at

    click.echo(signer_at(key or own_folder() / "centre.key").public)


@click.command()
@server_options
@click.option("--name", "names", multiple=True, help="Another name by which browsers call it.")
@click.option("--signing-key", type=NEW_FILE, help="The key that signs receipts.")
@with_store
def serve(
    store: "Store", listen: str, names: tuple[str, ...], certificate: Path | None,
    key: Path | None, signing_key: Path | None,
) -> None:  # fmt: skip
    """Take segments from the network, and show the group's pages.

    Sites are known by a token, and so are the people who read.

    Only this computer reaches it unless --listen names an address of the network. Where a new day
    began at a site, what is due there is read anew. A reader is made with:
    centre reader add.

    \b
    Examples:
      logbook centre serve
      logbook centre serve --listen 192.168.1.5:8443 --certificate centre.pem --key centre.key
    """
    from logbook.centre.door import Door, beside_pages, create_app
    from logbook.centre.pages import Pages, create_pages
    from logbook.cli.desk import own_folder
    from logbook.office.beside import beside
    from logbook.page.server import address
    from logbook.page.server import serve as answer
    from logbook.proof.signing import signer_at

    pair, where = pair_of(certificate, key), address(listen)
    with store.of_group():
        pass  # What is no store is told here, and not to the first site.
    signer = signer_at(signing_key or own_folder() / "centre.key")

    def ready(url: str) -> None:
        click.echo(f"The centre takes segments and shows its pages at {url} Ctrl-C stops it.")
        if not where.is_own and pair is None:
            click.echo(PLAIN, err=True)

    desk: Desk = click.get_current_context().find_root().obj
    told = partial(say, err=True)
    door = create_app(Door(store, signer, desk.now, told))
    called = known_names(where.host, names)
    pages = create_pages(Pages(store, called, desk.now, told, pair is not None))
    with beside(partial(_renewed, store, desk)):
        answer(beside_pages(door, pages), where, pair, ready, longest_body_bytes=None)
    click.echo("Stopped.")


def _renewed(store: "Store", desk: "Desk") -> float:
    """Read what is due where a new day began; answers how many seconds to pause."""
    from logbook.centre.renewing import renew_days
    from logbook.centre.store import sites
    from logbook.errors import LogbookError

    try:
        _, unread = renew_days(store, sites(store), desk.now())
    except LogbookError as error:
        say(f"What is due was not read: {error}.", err=True)
        return RENEWED_S
    for one in unread:
        say(f"{one.site} could not be read: {one.why}.", err=True)
    return RENEWED_S
