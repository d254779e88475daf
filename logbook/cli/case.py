"""Cases: logged afterwards, or begun and ended live."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import (
    CIRCUIT,
    DURATION,
    FILLED,
    FLOW,
    MASS,
    PERCENT,
    TAG,
    as_of_option,
    json_option,
    recorded,
    signed,
)
from logbook.cli.so_long import ask_whether_so_long
from logbook.vocabulary import CIRCUITS

if TYPE_CHECKING:
    from datetime import datetime

    from logbook.cli.desk import Desk
    from logbook.cli.so_long import Span
    from logbook.entries.case import Case
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content


def _patient(command: Any) -> Any:
    """The options that describe a case."""
    for option in (
        click.option("--reference", help="A reference of your own, such as a case number."),
        click.option("--vaporizer", type=TAG, help="Which one, where more than one is fitted."),
        click.option("--species", help="Species, in your own words."),
        click.option("--weight", type=MASS, help="Patient's weight: 24kg or 53lb."),
        click.option(
            "--circuit", type=CIRCUIT, default="unknown", metavar="CIRCUIT",
            help="adult, pediatric, non-rebreathing or unknown; F, Bain and others do.",
        ),
    ):  # fmt: skip
        command = option(command)
    return command


def settings(command: Any) -> Any:
    """The options that tell flow and dial, in one stretch or several."""
    for option in (
        click.option("--dial", type=PERCENT, help="Vaporizer's dial, to the end: 2 (percent)."),
        click.option("--flow", type=FLOW, help="Oxygen flow, to the end: 1L/min."),
        click.option(
            "--stretch",
            multiple=True,
            nargs=3,
            type=(DURATION, FLOW, PERCENT),
            metavar="TIME FLOW DIAL",
            help="Before that: how long, flow, dial (15min 2L/min 3). May stand several times.",
        ),
    ):
        command = option(command)
    return command


def segments_of(stretch: Any, flow: Any, dial: Any) -> list[dict[str, Any]]:
    """The segments of a case as its body holds them."""
    parts = [
        {"duration_s": lasted_s, "flow_ml_min": part_flow, "dial_percent": part_dial}
        for lasted_s, part_flow, part_dial in stretch
    ]
    if flow is not None or dial is not None:
        parts.append({"flow_ml_min": flow, "dial_percent": dial})
    return parts


@click.group()
def case() -> None:
    """Cases: what ran, how long, on which circuit.

    \b
    Examples:
      logbook case log bay1 --began 8:10 --ran 1h35 --circuit adult --by KO
      logbook case list --since 2026-03-01
    """


@case.command("log")
@click.argument("machine", type=TAG)
@click.option(
    "--began", type=FILLED, metavar="TIME", required=True, help="8:10, or '2026-03-02 08:10'."
)
@click.option("--ended", type=FILLED, metavar="TIME", help="When it ended; or give --ran.")
@click.option("--ran", type=DURATION, help="How long it ran: 1h35 or 95min.")
@_patient
@settings
@recorded
@click.pass_obj
def case_log(
    desk: "Desk", /, machine: str, began: str, ended: str | None, ran: int | None, circuit: str,
    weight: Any, stretch: Any, flow: Any, dial: Any, by: str | None, **told: Any,
) -> None:  # fmt: skip
    """Log a case that has ended.

    \b
    Examples:
      logbook case log bay1 --began 8:10 --ran 1h35 --circuit adult --by KO
      logbook case log bay1 --began 8:10 --ended 9:45 --weight 24kg
          --stretch 15min 2L/min 3 --flow 1L/min --dial 2 --by KO
    """
    from datetime import timedelta

    from logbook.entries.case import Case

    if (ended is None) == (ran is None):
        raise click.UsageError("give either --ended or --ran, so that the end is known")

    def content(opened: "Opened") -> "tuple[Case, datetime]":
        began_at = opened.instant(began, "--began")
        ended_at = (
            opened.instant(ended, "--ended") if ended else began_at + timedelta(seconds=ran or 0)
        )
        body = Case.of(
            machine=machine, ended_at=ended_at, circuit=CIRCUITS[circuit], weight_g=weight,
            segments=segments_of(stretch, flow, dial), **told,
        )  # fmt: skip
        return body, began_at

    def span(opened: "Opened") -> "Span":
        body, began_at = content(opened)
        return began_at, body.ended_at

    ask_whether_so_long(desk, machine, span)
    desk.record(content, by=by)


@case.command("begin")
@click.argument("machine", type=TAG)
@click.option("--pop-off", type=click.Choice(["open", "shut"]), help="The pop-off valve, seen.")
@_patient
@settings
@signed
@click.pass_obj
def case_begin(
    desk: "Desk", /, machine: str, pop_off: str | None, circuit: str, weight: Any, stretch: Any,
    flow: Any, dial: Any, at: str | None, by: str | None, **told: Any,
) -> None:  # fmt: skip
    """Begin a case now.

    \b
    Examples:
      logbook case begin bay1 --circuit adult --pop-off open --by KO
      logbook case begin bay1 --at 8:10 --weight 24kg --flow 2L/min --dial 3 --by KO
    """
    from logbook.entries.case import CaseBegin

    body = CaseBegin.of(
        machine=machine, circuit=CIRCUITS[circuit], weight_g=weight,
        segments=segments_of(stretch, flow, dial),
        pop_off_open=None if pop_off is None else pop_off == "open", **told,
    )  # fmt: skip

    desk.record(body, at=at, by=by)


@case.command("end")
@click.argument("machine", type=TAG)
@click.option("--ran", type=DURATION, help="How long it ran, where nobody ended it: 1h10.")
@settings
@signed
@click.pass_obj
def case_end(
    desk: "Desk", machine: str, ran: int | None, stretch: Any, flow: Any, dial: Any,
    at: str | None, by: str | None,
) -> None:  # fmt: skip
    """End the case that runs on a machine.

    Settings given here replace those given at its begin.

    \b
    Examples:
      logbook case end bay1 --by KO
      logbook case end bay1 --ran 1h10 --by KO
      logbook case end bay1 --at 9:45 --stretch 15min 2L/min 3 --flow 1L/min --dial 2 --by KO
    """
    from datetime import timedelta

    from logbook.entries.case import CaseEnd

    if ran is not None and at is not None:
        raise click.UsageError("give either --at or --ran, so that the end is known")

    def span(opened: "Opened") -> "Span":
        _, began_at = _running(opened, machine)
        ended_at = began_at + timedelta(seconds=ran) if ran else desk.instant(opened, at)
        return began_at, ended_at

    def content(opened: "Opened") -> "Content":
        case_entry, _ = _running(opened, machine)
        body = CaseEnd.of(case_entry=case_entry, segments=segments_of(stretch, flow, dial))
        return body, span(opened)[1]

    ask_whether_so_long(desk, machine, span)
    desk.record(content, by=by)


def _running(opened: "Opened", machine: str) -> "tuple[int, datetime]":
    """The entry of the case that runs on a machine, and when it began."""
    from logbook.errors import InputError
    from logbook.projections.lookup import running_case
    from logbook.times import utc_from_epoch_s

    running = running_case(opened.connection, machine)
    if running is None:
        raise InputError(f"no case runs on {machine}; log a past one with: logbook case log")
    return running.entry, utc_from_epoch_s(running.began_s)


@case.command("list")
@click.option("--machine", type=TAG, help="Only this machine.")
@click.option(
    "--since", type=FILLED, metavar="DATE", help="From this day on; without it, the last 14 days."
)
@as_of_option
@json_option
@click.pass_obj
def case_list(
    desk: "Desk", machine: str | None, since: str | None, as_of: str | None, as_json: bool
) -> None:
    """List the cases.

    Each is shown with what stood against its machine when it began.

    \b
    Examples:
      logbook case list
      logbook case list --machine bay1 --since 2026-03-01 --json
    """
    from datetime import timedelta

    from logbook.answers.cases import case_list as answer
    from logbook.answers.equipment import known_machine
    from logbook.cli.terminal import show
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.cases import CaseListSheet

    with desk.reading() as book:
        moment = desk.moment(book, as_of)
        day = book.day(since, "--since") if since else moment.day - timedelta(days=14)
        if machine is not None:
            known_machine(book.connection, machine)
        found = answer(book.connection, moment, moment.day_began_s(day), machine)
        mark = checkpoint(book.connection, book.now)
    show(CaseListSheet.of(found, mark, moment.zone, day), as_json=as_json)
