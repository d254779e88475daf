"""Faults and incidents, and the evidence that ends them."""

from typing import TYPE_CHECKING

import click

from logbook.cli.options import ENTRY, signed
from logbook.vocabulary import FAULTS

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.group()
def fault() -> None:
    """Faults and incidents.

    \b
    Examples:
      logbook fault report iso1 tipped --by KO
      logbook fault report bay2 leak --out-of-service --by KO
    """


@fault.command("report")
@click.argument("unit")
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
    from logbook.entries.fault import STOPPING, Fault

    stops = out_of_service or what in STOPPING
    body = Fault.of(unit=unit, what=what, detail=detail, stops=stops)

    desk.record(body, at=at, by=by)


@click.command()
@click.argument("unit")
@click.option(
    "--evidence", type=ENTRY, required=True, metavar="N",
    help="Number of the passed check or service that clears it.",
)  # fmt: skip
@click.option("--remark", help="In your own words.")
@signed
@click.pass_obj
def return_to_service(
    desk: "Desk", unit: str, evidence: int, remark: str | None, at: str | None, by: str | None
) -> None:
    """Put a unit back in service, naming the entry that shows it may be used.

    \b
    Examples:
      logbook return-to-service iso1 --evidence 812 --by KO
      logbook return-to-service bay2 --evidence 815 --remark "new gasket" --by KO
    """
    from logbook.entries.fault import ReturnToService

    body = ReturnToService.of(unit=unit, evidence_entry=evidence, remark=remark)
    desk.record(body, at=at, by=by)
