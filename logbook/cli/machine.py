"""Machines: add, change, list, show, retire."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import FLOW, MASS, TAG, as_of_option, json_option, signed
from logbook.cli.profile import machine_profile
from logbook.vocabulary import SCAVENGING

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


def _described(command: Any) -> Any:
    """The options that describe a machine."""
    for option in (
        click.option("--flowmeter-max", type=FLOW, help="Top of the oxygen flowmeter: 4L/min."),
        click.option("--scavenging", type=click.Choice(SCAVENGING), help="Where waste gas goes."),
        click.option("--absorbent", type=MASS, help="Granules that the canister holds: 1200g."),
        click.option("--location", help="Where the machine stands."),
        click.option("--serial", help="Serial number."),
    ):
        command = option(command)
    return command


@click.group()
def machine() -> None:
    """Anesthesia machines.

    \b
    Examples:
      logbook machine add bay1 --serial M-1001 --absorbent 1200g
      logbook machine list
    """


machine.add_command(machine_profile)


@machine.command("add")
@click.argument("tag", type=TAG, metavar="MACHINE")
@_described
@signed
@click.pass_obj
def machine_add(
    desk: "Desk", /, tag: str, at: str | None, by: str | None, absorbent: Any,
    flowmeter_max: Any, **told: Any,
) -> None:  # fmt: skip
    """Add a machine under the short tag on its label.

    \b
    Examples:
      logbook machine add bay1 --serial M-1001 --absorbent 1200g
      logbook machine add dental --scavenging charcoal --flowmeter-max 4L/min
    """
    from logbook.entries.machine import Machine

    body = Machine.of(
        machine=tag, absorbent_g=absorbent, flowmeter_max_ml_min=flowmeter_max, **told
    )
    desk.record(body, at=at, by=by, signed=False)


@machine.command("change")
@click.argument("tag", type=TAG, metavar="MACHINE")
@_described
@click.option("--because", required=True, help="Why it changed.")
@signed
@click.pass_obj
def machine_change(
    desk: "Desk", /, tag: str, at: str | None, by: str | None, absorbent: Any,
    flowmeter_max: Any, because: str, **told: Any,
) -> None:  # fmt: skip
    """Say what changed about a machine.

    What is not named stays as it was.

    \b
    Examples:
      logbook machine change bay1 --location "room 2" --because moved --by KO
      logbook machine change bay1 --absorbent 1500g --because "new canister" --by KO
    """
    from logbook.entries.machine import MachineChange

    changed = {**told, "absorbent_g": absorbent, "flowmeter_max_ml_min": flowmeter_max}
    if not any(value is not None for value in changed.values()):
        raise click.UsageError("nothing to change; name at least one of the options")
    desk.record(MachineChange.of(machine=tag, reason=because, **changed), at=at, by=by)


@machine.command("retire")
@click.argument("tag", type=TAG, metavar="MACHINE")
@click.option("--because", required=True, help="Why the machine leaves.")
@signed
@click.pass_obj
def machine_retire(desk: "Desk", tag: str, because: str, at: str | None, by: str | None) -> None:
    """Retire a machine. Its record stays; its tag is not used again.

    \b
    Examples:
      logbook machine retire bay3 --because "replaced by bay7" --by KO
      logbook machine retire bay3 --because sold --at "2026-03-02 17:00" --by KO
    """
    from logbook.entries.machine import MachineRetirement

    desk.record(MachineRetirement.of(machine=tag, reason=because), at=at, by=by)


@machine.command("list")
@json_option
@click.pass_obj
def machine_list(desk: "Desk", as_json: bool) -> None:
    """Every machine, those retired too.

    \b
    Examples:
      logbook machine list
      logbook machine list --json
    """
    from logbook.answers.equipment import machine_lines
    from logbook.cli.terminal import show
    from logbook.sheets.equipment import MachineListSheet

    with desk.reading() as book:
        found = machine_lines(book.connection, desk.moment(book, None))
    show(MachineListSheet(found), as_json=as_json)


@machine.command("show")
@click.argument("tag", type=TAG, metavar="MACHINE")
@as_of_option
@json_option
@click.pass_obj
def machine_show(desk: "Desk", tag: str, as_of: str | None, as_json: bool) -> None:
    """One machine: what it is, what stands on it, how long it ran.

    \b
    Examples:
      logbook machine show bay1
      logbook machine show bay1 --as-of 2026-03-02 --json
    """
    from logbook.answers.equipment import machine_lines, only
    from logbook.cli.terminal import show
    from logbook.sheets.equipment import MachineSheet

    with desk.reading() as book:
        lines = machine_lines(book.connection, desk.moment(book, as_of))
    found = only(lines, "machine", tag)
    show(MachineSheet(found), as_json=as_json)
