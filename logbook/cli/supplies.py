"""What is used up: absorbent, agent, oxygen, charcoal."""

from decimal import ROUND_FLOOR
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import (
    DURATION,
    FILLED,
    FLOW,
    GAUGE,
    MASS,
    NUMBER,
    PERCENT,
    VOLUME,
    json_option,
    signed,
)
from logbook.vocabulary import AGENTS, CYLINDER_SIZES

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.group()
def absorbent() -> None:
    """Absorbent. Colour can come back on standing, so the clocks count, not the colour.

    \b
    Examples:
      logbook absorbent change bay1 --by KO
      logbook absorbent change bay1 --mass 1200g --at 7:30 --by KO
    """


@absorbent.command("change")
@click.argument("machine")
@click.option("--mass", type=MASS, help="The new charge: 1200g.")
@click.option("--lot", help="Lot number of the fresh absorbent.")
@click.option("--expiry", type=FILLED, metavar="DATE", help="Its expiry date: 2027-06-30.")
@click.option("--old", "old_granules", help="What the old granules were like.")
@click.option("--because", help="Why it was changed.")
@signed
@click.pass_obj
def absorbent_change(
    desk: "Desk", machine: str, mass: Any, lot: str | None, expiry: str | None,
    old_granules: str | None, because: str | None, at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Record fresh absorbent; its clocks start anew.

    \b
    Examples:
      logbook absorbent change bay1 --by KO
      logbook absorbent change bay1 --mass 1200g --lot A17 --old hard --at 7:30 --by KO
    """
    from logbook.entries.supplies import AbsorbentChange
    from logbook.times import parse_day

    def body(book: Any) -> AbsorbentChange:
        day = parse_day(expiry, book.zone, desk.now(), "--expiry") if expiry else None
        return AbsorbentChange.of(
            machine=machine, mass_g=mass, lot=lot, expiry=day,
            old_granules=old_granules, reason=because,
        )  # fmt: skip

    def then(book: Any, saved: Any) -> list[str]:
        expires = saved.entry.body.expiry
        changed_on = saved.entry.happened_at.astimezone(book.zone).date()
        if expires and expires < changed_on:
            return [f"This absorbent expired on {expires}, before it was filled in."]
        return []

    desk.record(body, at=at, by=by, then=then)


@click.group()
def agent() -> None:
    """Liquid agent in the vaporizers.

    \b
    Examples:
      logbook agent fill iso1 --level 250ml --by KO
      logbook agent level iso1 180ml --by KO
    """


def _left_line(desk: "Desk", vaporizer: str) -> Any:
    """What follows from a fill or reading: what is left, and the use seen beside that reckoned."""

    def then(book: Any, saved: Any) -> list[str]:
        from logbook.answers.agent import agent_left
        from logbook.answers.drift import agent_compared
        from logbook.answers.item import ask
        from logbook.answers.moment import moment_at
        from logbook.sheets.units import drift_lines, left_text

        asked = ask(book.connection, moment_at(desk.now(), book.zone))
        view = asked.vaporizers[vaporizer]
        compared = [one for one in agent_compared(asked, view) if one.entry <= saved.entry.seq]
        lines = [f"{vaporizer}: {left_text(agent_left(asked, view))}."]
        lines += drift_lines(compared, saved.entry.seq, "mL")
        level_ml = saved.entry.body.level_ml
        if level_ml is not None and view.capacity_ml is not None and level_ml > view.capacity_ml:
            lines.append(
                f"That is more than {vaporizer} holds. If it is overfilled, it must not be"
            )
            lines[-1] += f" used: logbook fault report {vaporizer} overfilled"
        return lines

    return then


@agent.command("fill")
@click.argument("vaporizer")
@click.option("--added", type=VOLUME, help="How much was poured in: 100ml.")
@click.option("--level", type=VOLUME, help="The level after it: 240ml.")
@click.option("--lot", help="Lot number of the bottle.")
@signed
@click.pass_obj
def agent_fill(
    desk: "Desk", vaporizer: str, added: Any, level: Any, lot: str | None,
    at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Record a fill: what was added, or the level after it.

    \b
    Examples:
      logbook agent fill iso1 --level 250ml --by KO
      logbook agent fill iso1 --added 100ml --lot B22 --by KO
    """
    from logbook.entries.supplies import AgentFill

    body = AgentFill.of(vaporizer=vaporizer, added_ml=added, level_ml=level, lot=lot)
    desk.record(body, at=at, by=by, then=_left_line(desk, vaporizer))


@agent.command("level")
@click.argument("vaporizer")
@click.argument("level", type=VOLUME)
@signed
@click.pass_obj
def agent_level(desk: "Desk", vaporizer: str, level: Any, at: str | None, by: str | None) -> None:
    """Record the level read at the sight glass.

    \b
    Examples:
      logbook agent level iso1 180ml --by KO
      logbook agent level iso1 180ml --at "yesterday 18:00" --by KO
    """
    from logbook.entries.supplies import AgentLevel

    body = AgentLevel.of(vaporizer=vaporizer, level_ml=level)
    desk.record(body, at=at, by=by, then=_left_line(desk, vaporizer))


@agent.command("use")
@click.option("--agent", "name", type=click.Choice(AGENTS), required=True)
@click.option("--dial", type=PERCENT, required=True, help="Dial in percent: 2.")
@click.option("--flow", type=FLOW, required=True, help="Oxygen flow: 1L/min.")
@click.option("--for", "lasted", type=DURATION, required=True, help="How long: 60min.")
@json_option
def agent_use(name: str, dial: Any, flow: Any, lasted: int, as_json: bool) -> None:
    """How much liquid agent a dial setting uses. Needs no ledger.

    \b
    Examples:
      logbook agent use --agent isoflurane --dial 2 --flow 1L/min --for 60min
      logbook agent use --agent sevoflurane --dial 3 --flow 2L/min --for 1h30 --json
    """
    from logbook.arithmetic.agent import Segment, liquid_used_ml
    from logbook.cli.desk import show_json
    from logbook.sheets.layout import wrapped
    from logbook.times import duration_text
    from logbook.units import format_decimal

    used_ml = liquid_used_ml(name, [Segment(lasted, flow, dial)])
    if as_json:
        show_json("agent-use/1", agent=name, seconds=lasted, liquid_ml=used_ml)
        return
    setting = f"{format_decimal(dial)} %, {format_decimal(flow / 1000)} L/min"
    used = format_decimal(used_ml, 1)
    told = f"{name} at {setting} for {duration_text(lasted)}: about {used} mL of liquid."
    click.echo(wrapped(told))


@click.group()
def oxygen() -> None:
    """Oxygen: gauges and cylinders.

    \b
    Examples:
      logbook oxygen read bay1 --cylinder 1500psi --pipeline 50psi --by KO
      logbook oxygen left --size E --gauge 1500psi --flow 2L/min
    """


def _gauge_lines(desk: "Desk", cylinder_psi: Any, machine: str) -> Any:
    """A cylinder under the limit is said at once; then the use seen beside that reckoned."""

    def then(book: Any, saved: Any) -> list[str]:
        from logbook.answers.drift import oxygen_compared
        from logbook.answers.item import ask
        from logbook.answers.moment import moment_at
        from logbook.sheets.units import drift_lines

        asked = ask(book.connection, moment_at(desk.now(), book.zone))
        low_psi = asked.rules.for_machine(machine)["cylinder-low"]
        low = cylinder_psi is not None and cylinder_psi < low_psi
        lines = [f"The cylinder is below {low_psi} psi: replace it."] if low else []
        return lines + drift_lines(oxygen_compared(asked, machine), saved.entry.seq, "L")

    return then


@oxygen.command("read")
@click.argument("machine")
@click.option("--cylinder", type=GAUGE, help="Cylinder gauge: 1500psi or 100bar.")
@click.option("--pipeline", type=GAUGE, help="Pipeline or regulator gauge: 50psi.")
@signed
@click.pass_obj
def oxygen_read(
    desk: "Desk", machine: str, cylinder: Any, pipeline: Any, at: str | None, by: str | None
) -> None:
    """Record the gauges.

    \b
    Examples:
      logbook oxygen read bay1 --cylinder 1500psi --by KO
      logbook oxygen read bay1 --cylinder 100bar --pipeline 50psi --by KO
    """
    from logbook.entries.supplies import OxygenReading

    body = OxygenReading.of(machine=machine, cylinder_psi=cylinder, pipeline_psi=pipeline)
    desk.record(body, at=at, by=by, then=_gauge_lines(desk, cylinder, machine))


@oxygen.command("change")
@click.argument("machine")
@click.option("--size", type=click.Choice(CYLINDER_SIZES), help="Cylinder size.")
@click.option("--cylinder", type=GAUGE, help="Gauge of the new cylinder: 2000psi.")
@signed
@click.pass_obj
def oxygen_change(
    desk: "Desk", machine: str, size: str | None, cylinder: Any, at: str | None, by: str | None
) -> None:
    """Record another oxygen cylinder.

    \b
    Examples:
      logbook oxygen change bay1 --size E --cylinder 2000psi --by KO
      logbook oxygen change bay1 --by KO
    """
    from logbook.entries.supplies import CylinderChange

    body = CylinderChange.of(machine=machine, size=size, cylinder_psi=cylinder)
    desk.record(body, at=at, by=by, then=_gauge_lines(desk, cylinder, machine))


@oxygen.command("left")
@click.option("--size", type=click.Choice(CYLINDER_SIZES), help="Cylinder size.")
@click.option("--gauge", type=GAUGE, required=True, help="What the gauge shows: 500psi.")
@click.option("--flow", type=FLOW, required=True, help="Oxygen flow: 6L/min.")
@click.option("--reserve", type=GAUGE, help="Pressure not counted on; 200psi unless told.")
@click.option("--factor", type=NUMBER, help="Litres per psi, instead of the size's own.")
@click.option("--full", metavar="VOLUME@PRESSURE", help="What it holds full: 660L@1900psi.")
@json_option
def oxygen_left(
    size: str | None, gauge: Any, flow: Any, reserve: Any, factor: Any, full: str | None,
    as_json: bool,
) -> None:  # fmt: skip
    """How many whole minutes a cylinder lasts, rounded down. Needs no ledger.

    \b
    Examples:
      logbook oxygen left --size E --gauge 1500psi --flow 2L/min
      logbook oxygen left --full 660L@1900psi --gauge 500psi --flow 6L/min --reserve 0psi
    """
    from logbook.arithmetic.constants import OXYGEN_RESERVE_PSI
    from logbook.arithmetic.oxygen import minutes_left
    from logbook.cli.desk import show_json
    from logbook.sheets.layout import wrapped
    from logbook.units import format_decimal

    reserve_psi = OXYGEN_RESERVE_PSI.value if reserve is None else reserve
    usable_l = _usable_l(size, gauge, reserve_psi, factor, full)
    minutes = minutes_left(usable_l, flow)
    if as_json:
        show_json("oxygen-left/1", minutes=minutes, usable_l=usable_l, reserve_psi=reserve_psi)
        return
    kept = format_decimal(reserve_psi)
    litres = format_decimal(usable_l, 1, ROUND_FLOOR)
    click.echo(wrapped(f"About {minutes} min: {litres} L above the reserve of {kept} psi."))


def _usable_l(size: str | None, gauge: Any, reserve: Any, factor: Any, full: str | None) -> Any:
    """The litres above the reserve, by the one way of reckoning that was named."""
    import re

    from logbook.arithmetic import oxygen as sums
    from logbook.units import parse_pressure_psi, parse_volume_ml

    if factor is not None and full is not None:
        raise click.UsageError("give --factor or --full, not both")
    if full is not None:
        told = re.fullmatch(r"([^@]+)@([^@]+)", full)
        if told is None:
            raise click.UsageError(f"--full {full} is not VOLUME@PRESSURE, such as 660L@1900psi")
        full_l = parse_volume_ml(told[1], "full volume") / 1000
        full_psi = parse_pressure_psi(told[2], "full pressure")
        return sums.contents_by_full_volume_l(gauge, full_l, full_psi, reserve)
    if factor is not None:
        return sums.contents_by_factor_l(factor, gauge, reserve)
    if size is None:
        raise click.UsageError("give the cylinder's --size, or --factor, or --full")
    return sums.contents_l(size, gauge, reserve)


@click.group()
def charcoal() -> None:
    """Charcoal canisters of the scavenging.

    \b
    Examples:
      logbook charcoal change dental --weight 780g --by KO
      logbook charcoal weigh dental 815g --by KO
    """


@charcoal.command("change")
@click.argument("machine")
@click.option("--weight", type=MASS, help="Weight of the fresh canister: 780g.")
@signed
@click.pass_obj
def charcoal_change(
    desk: "Desk", machine: str, weight: Any, at: str | None, by: str | None
) -> None:
    """Record a fresh canister.

    Weigh it, so that its gain can be told later.

    \b
    Examples:
      logbook charcoal change dental --weight 780g --by KO
      logbook charcoal change dental --weight 780g --at 7:30 --by KO
    """
    from logbook.entries.supplies import CharcoalChange

    desk.record(CharcoalChange.of(machine=machine, weight_g=weight), at=at, by=by)


@charcoal.command("weigh")
@click.argument("machine")
@click.argument("weight", type=MASS)
@signed
@click.pass_obj
def charcoal_weigh(desk: "Desk", machine: str, weight: Any, at: str | None, by: str | None) -> None:
    """Record the weight of the canister in use.

    \b
    Examples:
      logbook charcoal weigh dental 815g --by KO
      logbook charcoal weigh dental 815g --at "2026-03-02 12:00" --by KO
    """
    from logbook.entries.supplies import CharcoalWeight

    def then(book: Any, _saved: Any) -> list[str]:
        from logbook.answers.charcoal import charcoal_items
        from logbook.answers.due import worst_first
        from logbook.answers.item import ask
        from logbook.answers.moment import moment_at
        from logbook.sheets.due_text import item_text

        asked = ask(book.connection, moment_at(desk.now(), book.zone))
        view = asked.machines.get(machine)
        found = charcoal_items(asked, view) if view else []
        return [item_text(item) for item in worst_first(found)]

    desk.record(CharcoalWeight.of(machine=machine, weight_g=weight), at=at, by=by, then=then)
