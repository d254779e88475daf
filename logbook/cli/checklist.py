"""Checklists: those that come with the program, and the clinic's own."""

from typing import TYPE_CHECKING

import click

from logbook.cli.options import VERSION, json_option, signed

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.group()
def checklist() -> None:
    """Lists of what to look at before a machine is used.

    \b
    Examples:
      logbook checklist show daily
      logbook checklist load our-daily.toml --by KO
    """


@checklist.command("load")
@click.argument("path", metavar="FILE", type=click.Path(exists=True, dir_okay=False))
@signed
@click.pass_obj
def checklist_load(desk: "Desk", path: str, at: str | None, by: str | None) -> None:
    """Load a list of the clinic's own from a TOML file. A version is never changed once loaded.

    \b
    Examples:
      logbook checklist load our-daily.toml --by KO
      logbook checklist load before-dental.toml --by KO
    """
    from pathlib import Path

    from logbook.checklists.loading import read
    from logbook.entries.check import ChecklistLoad
    from logbook.limits import LIMITS

    limit_units = {name: limit.unit for name, limit in LIMITS.items()}
    text, told = read(Path(path), limit_units)
    body = ChecklistLoad.of(checklist=told.name, version=told.version, text=text)
    desk.record(body, at=at, by=by)


@checklist.command("list")
@json_option
@click.pass_obj
def checklist_list(desk: "Desk", as_json: bool) -> None:
    """The lists there are, each in its newest version.

    \b
    Examples:
      logbook checklist list
      logbook checklist list --json
    """
    from logbook.answers.lists import current_list, list_names
    from logbook.cli.terminal import show
    from logbook.sheets.checklists import ChecklistListSheet

    with desk.reading() as book:
        names = list_names(book.connection)
        found = [one for name in names if (one := current_list(book.connection, name))]
    show(ChecklistListSheet(found), as_json=as_json)


@checklist.command("show")
@click.argument("name")
@click.option(
    "--version", type=VERSION, metavar="NUMBER", help="As an earlier version asked it: 1."
)
@json_option
@click.pass_obj
def checklist_show(desk: "Desk", name: str, version: int | None, as_json: bool) -> None:
    """One list, each item with how, why and source.

    \b
    Examples:
      logbook checklist show daily
      logbook checklist show daily --version 1 --json
    """
    from logbook.answers.lists import current_list, list_in_version, list_names
    from logbook.cli.terminal import show
    from logbook.errors import NotKnown
    from logbook.sheets.checklists import ChecklistSheet
    from logbook.units import shown

    with desk.reading() as book:
        found = current_list(book.connection, name)
        known = list_names(book.connection)
        if found is None:
            raise NotKnown("list", shown(name), known)
        if version is not None:
            found = list_in_version(book.connection, name, version)
    show(ChecklistSheet(found), as_json=as_json)
