"""The people who may read the pages of a group's centre."""

from typing import TYPE_CHECKING

import click

from logbook.cli.failures import say
from logbook.cli.group_store import clock, with_store
from logbook.cli.options import FILLED

if TYPE_CHECKING:
    from logbook.centre.store import Store


@click.group()
def reader() -> None:
    """The people who may read the group's pages.

    \b
    Examples:
      logbook centre reader add Robin
      logbook centre reader list
    """


@reader.command()
@click.argument("name", type=FILLED)
@with_store
def add(store: "Store", name: str) -> None:
    """Let somebody read, by a token.

    It is shown this once, and the store keeps a digest alone.

    \b
    Examples:
      logbook centre reader add Robin
      logbook centre reader add "biomedical team"
    """
    from logbook.centre.reading import add_reader

    click.echo(add_reader(store, name, clock()))
    say(f"Give it to {name}, who types it at the centre's address. It is not shown again.",
        err=True)  # fmt: skip


@reader.command()
@click.argument("name", type=FILLED)
@with_store
def end(store: "Store", name: str) -> None:
    """Let somebody read no longer.

    \b
    Examples:
      logbook centre reader end Robin
      logbook centre reader end "biomedical team"
    """
    from logbook.centre.reading import end_reader

    end_reader(store, name)
    say(f"{name} reads no longer.")


@reader.command("list")
@with_store
def list_readers(store: "Store") -> None:
    """Everybody who may read, and since when.

    \b
    Examples:
      logbook centre reader list
      logbook centre --store postgresql:///group reader list
    """
    from logbook.centre.reading import readers

    every = readers(store)
    for one in every:
        say(f"{one.name}, since {one.added_at}")
    if not every:
        say("Nobody reads the pages yet.")
