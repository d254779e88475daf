"""Oxygen: what the gauges show, another cylinder, and how long one lasts."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import (
    CYLINDER_NUMBER,
    FLOW,
    GAUGE,
    NUMBER,
    PIPELINE,
    TAG,
    VOLUME,
    json_option,
    signed,
)
from logbook.vocabulary import CYLINDER_SIZES, size_words

if TYPE_CHECKING:
    from decimal import Decimal

    from logbook.answers.oxygen import OxygenLeft
    from logbook.cli.desk import Desk


size_option = click.option(
    "--size",
    type=click.Choice(CYLINDER_SIZES, case_sensitive=False),
    help="Size by its letter in the United States; elsewhere give --water.",
)
water_option = click.option(
    "--water", type=VOLUME, metavar="VOLUME", help="Water volume stamped on the cylinder: 4.7L."
)
number_option = click.option(
    "--number", type=CYLINDER_NUMBER,
    help="Which cylinder of several, in the order of the machine's profile; else the first.",
)  # fmt: skip


@click.group()
def oxygen() -> None:
    """Oxygen: gauges and cylinders.

    \b
    Examples:
      logbook oxygen read bay1 --cylinder 1500psi --pipeline 50psi --by KO
      logbook oxygen left --water 4.7L --gauge 105bar --flow 2L/min
    """


@oxygen.command("read")
@click.argument("machine", type=TAG)
@click.option("--cylinder", type=GAUGE, help="Cylinder gauge: 1500psi or 100bar.")
@click.option("--pipeline", type=PIPELINE, help="Pipeline or regulator gauge: 50psi.")
@number_option
@signed
@click.pass_obj
def oxygen_read(
    desk: "Desk", machine: str, cylinder: Any, pipeline: Any, number: int | None,
    at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Record the gauges.

    \b
    Examples:
      logbook oxygen read bay1 --cylinder 1500psi --by KO
      logbook oxygen read bay1 --cylinder 100bar --pipeline 50psi --by KO
    """
    from logbook.entries.supplies import OxygenReading

    body = OxygenReading.of(
        machine=machine, cylinder_psi=cylinder, pipeline_psi=pipeline, number=number
    )
    desk.record(body, at=at, by=by)


@oxygen.command("change")
@click.argument("machine", type=TAG)
@size_option
@water_option
@click.option("--cylinder", type=GAUGE, help="Gauge of the new cylinder: 2000psi.")
@number_option
@signed
@click.pass_obj
def oxygen_change(
    desk: "Desk", machine: str, size: str | None, water: Any, cylinder: Any, number: int | None,
    at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Record another oxygen cylinder.

    \b
    Examples:
      logbook oxygen change bay1 --size E --cylinder 2000psi --by KO
      logbook oxygen change bay1 --water 4.7L --cylinder 137bar --by KO
    """
    from logbook.entries.supplies import CylinderChange

    told = {"size": size, "cylinder_psi": cylinder, "number": number}
    if water is not None:
        told["water_l"] = water / 1000
    body = CylinderChange.of(machine=machine, **told)
    desk.record(body, at=at, by=by)


@oxygen.command("left")
@click.argument("machine", type=TAG, required=False)
@size_option
@water_option
@click.option("--gauge", type=GAUGE, help="What the gauge shows: 500psi.")
@click.option("--flow", type=FLOW, required=True, help="Oxygen flow: 6L/min.")
@click.option("--reserve", type=GAUGE, help="Pressure not counted on; 200psi unless told.")
@click.option("--factor", type=NUMBER, help="Litres per psi, instead of the size's own.")
@click.option("--full", metavar="VOLUME@PRESSURE", help="What it holds full: 660L@1900psi.")
@json_option
@click.pass_obj
def oxygen_left(
    desk: "Desk", machine: str | None, size: str | None, water: Any, gauge: Any, flow: Any,
    reserve: Any, factor: Any, full: str | None, as_json: bool,
) -> None:  # fmt: skip
    """How many whole minutes oxygen lasts, rounded down.

    Of a machine by what was recorded of all its cylinders, less what cases took since; of any other
    cylinder by what you tell, without a ledger.

    \b
    Examples:
      logbook oxygen left bay1 --flow 2L/min
      logbook oxygen left --water 4.7L --gauge 105bar --flow 2L/min
      logbook oxygen left --size E --gauge 1500psi --flow 2L/min
    """
    from logbook.arithmetic.constants import OXYGEN_RESERVE_PSI
    from logbook.arithmetic.oxygen import minutes_left
    from logbook.cli.terminal import show
    from logbook.sheets.cylinders import oxygen_text, untold_text
    from logbook.sheets.sums import OxygenLeftSheet

    told = (size, water, gauge, factor, full)
    if machine is not None:
        if any(one is not None for one in told):
            raise click.UsageError(
                f"{machine} is reckoned by its record; name it, or tell a cylinder"
            )
        left, usable_l = _of_machine(desk, machine, reserve)
        rests_on = oxygen_text(left) + untold_text(left)
        sum_of = (minutes_left(usable_l, flow), usable_l, left.reserve_psi, rests_on)
        show(OxygenLeftSheet(*sum_of), as_json=as_json)
        return
    if gauge is None:
        raise click.UsageError("Missing option '--gauge'; or name a machine whose gauge was read")
    reserve_psi = OXYGEN_RESERVE_PSI.value if reserve is None else reserve
    usable_l, rests_on = _usable_l(size, water, gauge, reserve_psi, factor, full)
    minutes = minutes_left(usable_l, flow)
    show(OxygenLeftSheet(minutes, usable_l, reserve_psi, rests_on), as_json=as_json)


def _of_machine(desk: "Desk", machine: str, reserve_psi: Any) -> "tuple[OxygenLeft, Decimal]":
    """What is left in a machine's cylinders."""
    from logbook.answers.oxygen import oxygen_left_on

    with desk.reading() as book:
        moment = desk.moment(book, None)
        return oxygen_left_on(book.connection, moment, machine, reserve_psi)


def _usable_l(
    size: str | None, water: Any, gauge: Any, reserve: Any, factor: Any, full: str | None
) -> tuple[Any, str]:
    """The litres above the reserve, by the one way of reckoning that was named, and its name."""
    import re

    from logbook.arithmetic import oxygen as sums
    from logbook.units import format_decimal, parse_pressure_psi, parse_volume_ml

    ways = {"--water": water, "--factor": factor, "--full": full}
    given = [name for name, value in ways.items() if value is not None]
    if len(given) > 1:
        raise click.UsageError(f"give {' or '.join(given)}, not both")
    if water is not None:
        litres = water / 1000
        usable_l = sums.contents_by_water_l(litres, gauge, reserve)
        return usable_l, f"its water volume of {format_decimal(litres)} L"
    if full is not None:
        told = re.fullmatch(r"([^@]+)@([^@]+)", full)
        if told is None:
            raise click.UsageError(f"--full {full} is not VOLUME@PRESSURE, such as 660L@1900psi")
        full_l = parse_volume_ml(told[1], "full volume") / 1000
        full_psi = parse_pressure_psi(told[2], "full pressure")
        return sums.contents_by_full_volume_l(gauge, full_l, full_psi, reserve), f"{full} when full"
    if factor is not None:
        usable_l = sums.contents_by_factor_l(factor, gauge, reserve)
        return usable_l, f"{format_decimal(factor)} L/psi"
    if size is None:
        raise click.UsageError("give the cylinder's --water, or --size, --factor or --full")
    return sums.contents_l(size, gauge, reserve), size_words(size)
