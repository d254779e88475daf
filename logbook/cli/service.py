"""Service: plans, and what was done."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import (
    FILLED,
    NUMBER,
    PERCENT,
    TAG,
    UNIT,
    as_of_option,
    certified,
    json_option,
    output_option,
    sha256_of,
    signed,
)
from logbook.vocabulary import OUTCOMES

if TYPE_CHECKING:
    from logbook.cli.desk import Desk
    from logbook.entries.base import Body
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content


@click.group()
def service() -> None:
    """Service of machines and vaporizers.

    \b
    Examples:
      logbook service plan bay1 service --every P6M --last 2025-12-19
      logbook service list
    """


@service.command("plan")
@click.argument("unit", type=TAG, metavar=UNIT)
@click.argument("item")
@click.option(
    "--every", metavar="INTERVAL", help="How often: '12 months' (P12M), or a rule of RFC 5545."
)
@click.option("--run-hours", type=NUMBER, help="After so many hours of use.")
@click.option("--last", type=FILLED, metavar="DATE", help="When it was last done, as far as known.")
@click.option("--source", help="Who says so: the maker's manual, a local rule.")
@signed
@click.pass_obj
def service_plan(
    desk: "Desk", unit: str, item: str, every: str | None, run_hours: Any, last: str | None,
    source: str | None, at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Plan a service that comes round. The maker's interval comes first.

    \b
    Examples:
      logbook service plan iso1 "output verification" --every P12M --last 2025-03-20
      logbook service plan bay1 service --every P6M --run-hours 500 --source "maker's manual"
    """
    from logbook.arithmetic.calendar import rhythm_of
    from logbook.entries.service import ServicePlan

    rhythm = rhythm_of(every) if every is not None else None

    def content(opened: "Opened") -> "Content":
        day = opened.day(last, "--last") if last else None
        body = ServicePlan.of(
            unit=unit, item=item, every=rhythm, run_hours=run_hours, last=day, source=source
        )
        return body, desk.instant(opened, at)

    desk.record(content, by=by, signed=False)


@service.command("done")
@click.argument("unit", type=TAG, metavar=UNIT)
@click.argument("item")
@click.option("--outcome", type=click.Choice(OUTCOMES), required=True)
@click.option("--done-by", help="Who did the work.")
@certified
@output_option
@click.option("--tolerance", type=PERCENT, help="Allowed error of the output in percent.")
@signed
@click.pass_obj
def service_done(
    desk: "Desk", unit: str, item: str, outcome: str, done_by: str | None,
    certificate: str | None, scan: Path | None, output: Any, tolerance: Any, at: str | None,
    by: str | None,
) -> None:  # fmt: skip
    """Record a service that was done. One that failed puts the unit out of service.

    \b
    Examples:
      logbook service done iso1 "output verification" --outcome passed
          --output 1 1.05 --output 2 2.1 --certificate C-77 --by KO
      logbook service done bay1 service --outcome passed --done-by "field engineer" --by KO
    """
    from logbook.answers.outputs import judged
    from logbook.entries.service import Service
    from logbook.projections.lookup import OUTPUT_VERIFICATION

    if output and item != OUTPUT_VERIFICATION:
        raise click.UsageError(f'outputs are told of an "{OUTPUT_VERIFICATION}"')
    sha256 = sha256_of(scan)

    def content(opened: "Opened") -> "Content":
        if not output:
            body: Body = Service.of(
                unit=unit,
                item=item,
                outcome=outcome,
                done_by=done_by,
                certificate=certificate,
                certificate_sha256=sha256,
            )
        else:
            body = judged(
                opened.connection, desk.moment(opened, None), unit, output, outcome=outcome,
                tolerance_percent=tolerance, done_by=done_by, certificate=certificate,
                certificate_sha256=sha256,
            )  # fmt: skip
        return body, desk.instant(opened, at)

    desk.record(content, by=by)


@service.command("list")
@as_of_option
@json_option
@click.pass_obj
def service_list(desk: "Desk", as_of: str | None, as_json: bool) -> None:
    """Every planned service and when it is due.

    \b
    Examples:
      logbook service list
      logbook service list --json
    """
    from logbook.answers.due import worst_first
    from logbook.answers.item import ask
    from logbook.answers.service import service_items
    from logbook.cli.terminal import show
    from logbook.sheets.due_text import ServiceListSheet

    with desk.reading() as book:
        moment = desk.moment(book, as_of)
        found = worst_first(service_items(ask(book.connection, moment)))
    show(ServiceListSheet.of(moment.day, found), as_json=as_json)
