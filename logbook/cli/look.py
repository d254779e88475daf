"""A look for an inspector, which ends by itself."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from logbook.cli.evidence import span_options
from logbook.cli.options import DURATION
from logbook.cli.serve import server_options

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@click.option(
    "--for", "lasting_s", type=DURATION, required=True, metavar="DURATION", help="How long: 2h."
)
@span_options
@server_options
@click.pass_obj
def look(
    desk: "Desk", lasting_s: int, first_day: str, last_day: str | None, machine: str | None,
    references: bool, listen: str, certificate: Path | None, key: Path | None,
) -> None:  # fmt: skip
    """An address at which somebody can look at the evidence of some days, and nothing else.

    It ends by itself, and shows what was known when it began. Nothing can be recorded there.

    \b
    Examples:
      logbook look --for 2h --from 2026-02-01 --to 2026-02-28
      logbook look --for 90min --from 2026-01-01 --machine bay2 --listen 192.168.1.20:8444
    """
    import tempfile
    from datetime import timedelta

    from logbook.cli.evidence import Pack, fill, span_of
    from logbook.cli.serve import PLAIN, pair_of
    from logbook.page.looking import Look, create_look
    from logbook.page.server import address, serve

    pair, where = pair_of(certificate, key), address(listen)
    with tempfile.TemporaryDirectory(prefix="look-") as name:
        place = Path(name)
        with desk.reading(long=True) as book:
            first, last = span_of(desk, book, first_day, last_day)
            fill(book, Pack(place), first, last, machine, references=references)
            title = f"{book.clinic.name}: {machine or 'all machines'}, {first} to {last}"
            zone = book.zone
        # To put the evidence together takes its time, which is not taken from who looks.
        until = (desk.now() + timedelta(seconds=lasting_s)).astimezone(zone)
        told = Look(place, title, until, desk.now)

        def ready(url: str) -> None:
            click.echo(f"To look at: {url}{told.secret}/")
            click.echo(f"It ends at {until:%H:%M} on {until:%a %Y-%m-%d}; Ctrl-C ends it before.")
            if not where.is_own and pair is None:
                click.echo(PLAIN, err=True)

        serve(create_look(told), where, pair, ready, lasting_s)
    click.echo("Ended.")
