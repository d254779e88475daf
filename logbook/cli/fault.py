"""Faults and incidents, and the evidence that ends them."""

from typing import TYPE_CHECKING

import click

from logbook.cli.asking import answered, known_on_option
from logbook.cli.options import ENTRY, TAG, UNIT, as_of_option, json_option, signed
from logbook.vocabulary import FAULTS

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content
    from logbook.sheets.sheet import Sheet


@click.group()
def fault() -> None:
    """Faults and incidents.

    \b
    Examples:
      logbook fault report iso1 tipped --by KO
      logbook fault close 812 --because "new hose" --by KO
    """


@fault.command("report")
@click.argument("unit", type=TAG, metavar=UNIT)
@click.argument("what", type=click.Choice(FAULTS))
@click.option("--detail", help="What was seen, in your own words.")
@click.option("--out-of-service", is_flag=True, help="Take the unit out of service.")
@signed
@click.pass_obj
def fault_report(
    desk: "Desk", unit: str, what: str, detail: str | None, out_of_service: bool,
    at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Report a fault. A unit tipped, dropped or overfilled is out of service at once.

    \b
    Examples:
      logbook fault report iso1 tipped --detail "fell over on the cart" --by KO
      logbook fault report bay2 leak --out-of-service --by KO
    """
    from logbook.entries.fault import Fault

    body = Fault.reported(unit, what, detail, take_out=out_of_service)

    desk.record(body, at=at, by=by)


@fault.command("list")
@as_of_option
@known_on_option
@json_option
@click.pass_obj
def fault_list(desk: "Desk", as_of: str | None, known_on: str | None, as_json: bool) -> int:
    """What is out of service, what brings it back, and the open faults.

    \b
    Examples:
      logbook fault list
      logbook fault list --as-of 2026-03-06 --json
    """
    from logbook.answers.item import ask as asked_of
    from logbook.answers.service_state import noted, stopped
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.faults import FaultListSheet

    def ask(book: "Opened", moment: "Moment") -> "tuple[Sheet, bool]":
        asked = asked_of(book.connection, moment)
        against, others = stopped(asked), noted(asked)
        mark = checkpoint(book.connection, book.now)
        sheet = FaultListSheet.of(moment.day, against, others, mark, moment.zone)
        return sheet, bool(against or others)

    return answered(desk, ask, as_of=as_of, known_on=known_on, as_json=as_json)


@fault.command("close")
@click.argument("entry", type=ENTRY)
@click.option("--because", required=True, help="What ended it.")
@signed
@click.pass_obj
def fault_close(desk: "Desk", entry: int, because: str, at: str | None, by: str | None) -> None:
    """Close a fault that left its unit in service.

    \b
    Examples:
      logbook fault close 812 --because "new hose" --by KO
      logbook fault close 812 --because "leak gone at the test" --at 9:00 --by KO
    """
    from logbook.entries.fault import FaultClose
    from logbook.errors import Act, NotKnown
    from logbook.ledger.store import read_entry
    from logbook.projections.project import counting

    def content(opened: "Opened") -> "Content":
        told = read_entry(opened.connection, entry) and counting(opened.connection, entry)
        unit = told.body.names().get("unit") if told else None
        if unit is None:
            raise NotKnown("fault", str(entry), act=Act.LIST_FAULTS)
        body = FaultClose.of(unit=unit, fault_entry=entry, reason=because)
        return body, desk.instant(opened, at)

    desk.record(content, by=by)


@click.command()
@click.argument("unit", type=TAG, metavar=UNIT)
@click.option(
    "--evidence", type=ENTRY, metavar="N",
    help="Number of the passed check or service that clears it; without it, those are shown.",
)  # fmt: skip
@click.option("--remark", help="In your own words.")
@signed
@click.pass_obj
def return_to_service(
    desk: "Desk", unit: str, evidence: int | None, remark: str | None,
    at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Put a unit back in service, naming the entry that shows it may be used.

    Without its number the entries that can serve are shown, and asked for in a terminal.

    \b
    Examples:
      logbook return-to-service iso1 --evidence 812 --by KO
      logbook return-to-service bay2 --evidence 815 --remark "new gasket" --by KO
    """
    from logbook.entries.fault import ReturnToService

    seq = _proposed(desk, unit) if evidence is None else evidence
    body = ReturnToService.of(unit=unit, evidence_entry=seq, remark=remark)
    desk.record(body, at=at, by=by)


def _proposed(desk: "Desk", unit: str) -> int:
    """The entry that a person takes of those that can serve as evidence; nobody guesses it."""
    from logbook.answers.equipment import known_unit
    from logbook.answers.item import ask as asked_of
    from logbook.answers.service_state import stopped
    from logbook.cli.desk import ask, has_terminal
    from logbook.cli.failures import say
    from logbook.errors import InputError
    from logbook.ledger.store import read_entry
    from logbook.sheets.sentences import sentence

    with desk.reading() as book:
        known_unit(book.connection, unit)
        asked = asked_of(book.connection, desk.moment(book, None))
        against = [one for one in stopped(asked) if one.fault.unit == unit]
        serving = against[0].evidence if against else []
        found = [read_entry(book.connection, seq) for seq in serving]
        can = [f"{one.seq} {sentence(one, book.zone)}" for one in found if one]
    if not against:
        raise InputError(f"{unit} is not out of service", "nothing brings it back")
    if not can:
        raise InputError(
            f"nothing recorded since {unit} went out of service shows that it may be used",
            f"record {against[0].back} first",
        )
    told = f"These can serve as evidence for {unit}: {'; '.join(can)}"
    if not has_terminal():
        raise click.UsageError(f"{told}. Name one: --evidence {can[0].split()[0]}")
    say(f"{told}.")
    return int(ask("Which entry", "--evidence", type=ENTRY))
