"""Commands about the book itself."""

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@click.pass_obj
def rebuild(desk: "Desk") -> None:
    """Read all tables anew from the entries. The entries themselves are not touched.

    \b
    Examples:
      logbook rebuild
      logbook --ledger copy.ledger rebuild
    """
    from logbook.projections.project import rebuild as read_anew

    with desk.writing() as book:
        count = read_anew(book.connection)
    click.echo(f"All tables are rebuilt from {count} entries.")
