"""Vaporizers: add, fit, remove, list, show."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import (
    AIR,
    FILLED,
    PERCENT,
    TAG,
    TEMPERATURE,
    VOLUME,
    certified,
    json_option,
    output_option,
    sha256_of,
    signed,
)
from logbook.vocabulary import AGENTS, CARRIER_GASES, VAPORIZER_DESIGNS

if TYPE_CHECKING:
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content


@click.group()
def vaporizer() -> None:
    """Vaporizers. Service dates belong to the vaporizer and travel with it.

    \b
    Examples:
      logbook vaporizer add iso1 --agent isoflurane --fit bay1
      logbook vaporizer fit iso1 bay2 --by KO
    """


@vaporizer.command("add")
@click.argument("tag", type=TAG, metavar="VAPORIZER")
@click.option("--agent", type=click.Choice(AGENTS), required=True, help="The one agent it takes.")
@click.option("--serial", help="Serial number.")
@click.option("--capacity", type=VOLUME, help="Liquid it holds when full: 250ml.")
@click.option("--low-mark", type=VOLUME, help="What is left where its glass shows low: 50ml.")
@click.option(
    "--design",
    type=click.Choice(VAPORIZER_DESIGNS),
    help="Heated keeps vol %, variable-bypass partial pressure; as usual with its agent.",
)
@click.option("--fit", type=FILLED, metavar="MACHINE", help="The machine on which it stands.")
@signed
@click.pass_obj
def vaporizer_add(
    desk: "Desk", tag: str, agent: str, serial: str | None, capacity: Any, low_mark: Any,
    design: str | None, fit: str | None, at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Add a vaporizer, and fit it where it stands.

    \b
    Examples:
      logbook vaporizer add iso1 --agent isoflurane --capacity 250ml --fit bay1
      logbook vaporizer add sevo1 --agent sevoflurane --serial V-2002
    """
    from logbook.entries.vaporizer import Vaporizer, VaporizerFitting

    body = Vaporizer.of(
        vaporizer=tag, agent=agent, serial=serial, capacity_ml=capacity, low_mark_ml=low_mark,
        design=design,
    )  # fmt: skip
    bodies = [body, *([VaporizerFitting.of(vaporizer=tag, machine=fit)] if fit else [])]

    with desk.writing() as opened:
        saved = [desk.take_down(opened, one, at=at, by=by or "") for one in bodies]
    desk.tell(opened, *saved)


@vaporizer.command("fit")
@click.argument("tag", type=TAG, metavar="VAPORIZER")
@click.argument("machine", type=TAG)
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
@click.argument("tag", type=TAG, metavar="VAPORIZER")
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


@vaporizer.command("verify")
@click.argument("tag", type=TAG, metavar="VAPORIZER")
@output_option
@click.option("--analyser", help="What measured it: its name and serial number.")
@click.option("--temperature", type=TEMPERATURE, help="How warm the room was: 21C or 70F.")
@click.option("--carrier", type=click.Choice(CARRIER_GASES), help="The gas that carried it.")
@click.option(
    "--ambient-pressure", "air", type=AIR, help="Of the air, instead of the clinic's: 83.4kPa."
)
@click.option("--tolerance", type=PERCENT, help="Allowed error in percent, instead of the limit.")
@click.option("--done-by", help="Who did the work.")
@certified
@signed
@click.pass_obj
def vaporizer_verify(
    desk: "Desk", tag: str, output: Any, analyser: str | None, temperature: Any,
    carrier: str | None, air: Any, tolerance: Any, done_by: str | None, certificate: str | None,
    scan: Path | None, at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Record the output as an analyser measured it, in vol %.

    One output beyond the tolerance fails, and puts the vaporizer out of service. Where the air is
    thin, what a variable-bypass vaporizer is expected to give is corrected for it.

    \b
    Examples:
      logbook vaporizer verify iso1 --output 1 1.05 --output 2 2.1 --by KO
      logbook vaporizer verify iso1 --output 2 2.4 --ambient-pressure 83.4kPa --carrier oxygen
          --analyser "A-12" --temperature 21C --certificate C-77 --by KO
    """
    from logbook.answers.outputs import judged

    sha256 = sha256_of(scan)
    if not output:
        raise click.UsageError("say what was measured, such as --output 2 2.1: dial 2 gave 2.1")

    def content(opened: "Opened") -> "Content":
        body = judged(
            opened.connection, desk.moment(opened, None), tag, output, air_kpa=air,
            tolerance_percent=tolerance, analyser=analyser, temperature_c=temperature,
            carrier_gas=carrier, done_by=done_by, certificate=certificate,
            certificate_sha256=sha256,
        )  # fmt: skip
        return body, desk.instant(opened, at)

    desk.record(content, by=by)


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
@click.argument("tag", type=TAG, metavar="VAPORIZER")
@json_option
@click.pass_obj
def vaporizer_show(desk: "Desk", tag: str, as_json: bool) -> None:
    """One vaporizer in full.

    What it is, where it stands, how long it ran, what is left, the use seen at each level, and its
    output at each verification.

    \b
    Examples:
      logbook vaporizer show iso1
      logbook vaporizer show iso1 --json
    """
    from logbook.answers.equipment import only, vaporizer_lines
    from logbook.answers.outputs import output_history
    from logbook.cli.terminal import show
    from logbook.sheets.equipment import VaporizerSheet

    with desk.reading() as book:
        moment = desk.moment(book, None)
        lines = vaporizer_lines(book.connection, moment)
        outputs = output_history(book.connection, moment, tag)
        zone = book.zone
    show(VaporizerSheet(only(lines, "vaporizer", tag), outputs, zone), as_json=as_json)
