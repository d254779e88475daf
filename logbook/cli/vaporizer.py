"""Vaporizers: add, fit, remove, list, show."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import FILLED, VOLUME, json_option, signed
from logbook.vocabulary import AGENTS

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.group()
def vaporizer() -> None:
    """Vaporizers. Service dates belong to the vaporizer and travel with it.

    \b
    Examples:
      logbook vaporizer add iso1 --agent isoflurane --fit bay1
      logbook vaporizer fit iso1 bay2 --by KO
    """


@vaporizer.command("add")
@click.argument("tag")
@click.option("--agent", type=click.Choice(AGENTS), required=True, help="The one agent it takes.")
@click.option("--serial", help="Serial number.")
@click.option("--capacity", type=VOLUME, help="Liquid it holds when full: 250ml.")
@click.option("--low-mark", type=VOLUME, help="Liquid at the low mark: 50ml.")
@click.option("--fit", type=FILLED, metavar="MACHINE", help="The machine on which it stands.")
@signed
@click.pass_obj
def vaporizer_add(
    desk: "Desk", tag: str, agent: str, serial: str | None, capacity: Any, low_mark: Any,
    fit: str | None, at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Add a vaporizer, and fit it where it stands.

    \b
    Examples:
      logbook vaporizer add iso1 --agent isoflurane --capacity 250ml --fit bay1
      logbook vaporizer add sevo1 --agent sevoflurane --serial V-2002
    """
    from logbook.entries.vaporizer import Vaporizer, VaporizerFitting

    body = Vaporizer.of(
        vaporizer=tag, agent=agent, serial=serial, capacity_ml=capacity, low_mark_ml=low_mark
    )
    bodies = [body, *([VaporizerFitting.of(vaporizer=tag, machine=fit)] if fit else [])]

    with desk.writing() as opened:
        saved = [desk.take_down(opened, one, at=at, by=by or "") for one in bodies]
    desk.tell(opened, *saved)


@vaporizer.command("fit")
@click.argument("tag")
@click.argument("machine")
@signed
@click.pass_obj
def vaporizer_fit(desk: "Desk", tag: str, machine: str, at: str | None, by: str | None) -> None:
    """Fit a vaporizer to a machine, wherever it stood before.

    \b
    Examples:
      logbook vaporizer fit iso1 bay2 --by KO
      logbook vaporizer fit iso1 bay2 --at "yesterday 17:30" --by KO
    """
    from logbook.entries.vaporizer import VaporizerFitting

    desk.record(VaporizerFitting.of(vaporizer=tag, machine=machine), at=at, by=by)


@vaporizer.command("remove")
@click.argument("tag")
@click.option("--because", help="Why it comes off.")
@signed
@click.pass_obj
def vaporizer_remove(
    desk: "Desk", tag: str, because: str | None, at: str | None, by: str | None
) -> None:
    """Take a vaporizer off its machine.

    \b
    Examples:
      logbook vaporizer remove iso1 --because "sent for service" --by KO
      logbook vaporizer remove iso1 --at 7:10 --by KO
    """
    from logbook.entries.vaporizer import VaporizerRemoval

    desk.record(VaporizerRemoval.of(vaporizer=tag, reason=because), at=at, by=by)


@vaporizer.command("list")
@json_option
@click.pass_obj
def vaporizer_list(desk: "Desk", as_json: bool) -> None:
    """Every vaporizer and where it stands.

    How long each ran and how much agent is probably left stand beside it.

    \b
    Examples:
      logbook vaporizer list
      logbook vaporizer list --json
    """
    from logbook.answers.equipment import vaporizer_lines
    from logbook.cli.terminal import show
    from logbook.sheets.equipment import VaporizerListSheet

    with desk.reading() as book:
        found = vaporizer_lines(book.connection, desk.moment(book, None))
    show(VaporizerListSheet(found), as_json=as_json)


@vaporizer.command("show")
@click.argument("tag")
@json_option
@click.pass_obj
def vaporizer_show(desk: "Desk", tag: str, as_json: bool) -> None:
    """One vaporizer in full.

    What it is, where it stands, how long it ran, what is left, and the use seen at each level.

    \b
    Examples:
      logbook vaporizer show iso1
      logbook vaporizer show iso1 --json
    """
    from logbook.answers.equipment import only, vaporizer_lines
    from logbook.cli.terminal import show
    from logbook.sheets.equipment import VaporizerSheet

    with desk.reading() as book:
        lines = vaporizer_lines(book.connection, desk.moment(book, None))
    found = only(lines, "vaporizer", tag)
    show(VaporizerSheet(found), as_json=as_json)
