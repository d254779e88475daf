"""What is used up: absorbent, agent, oxygen, charcoal."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import GAUGE, MASS, VOLUME, signed

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.group()
def absorbent() -> None:
    """Absorbent. Colour can come back on standing, so the clocks count, not the colour."""


@absorbent.command("change")
@click.argument("machine")
@click.option("--mass", type=MASS, help="The new charge: 1200g.")
@click.option("--lot", help="Lot number of the fresh absorbent.")
@click.option("--expiry", metavar="DATE", help="Its expiry date: 2027-06-30.")
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
    """Liquid agent in the vaporizers."""


def _left_line(desk: "Desk", vaporizer: str) -> Any:
    """What follows from a fill or reading: the estimate beside what was seen before it."""

    def then(book: Any, _saved: Any) -> list[str]:
        from logbook.answers.agent import agent_left
        from logbook.answers.due import ask
        from logbook.answers.moment import moment_at
        from logbook.sheets.units import left_text

        asked = ask(book.connection, moment_at(desk.now(), book.zone))
        return [f"{vaporizer}: {left_text(agent_left(asked, asked.vaporizers[vaporizer]))}."]

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


@click.group()
def oxygen() -> None:
    """Oxygen: gauges and cylinders."""


def _low_line(cylinder_psi: Any, machine: str) -> Any:
    """A cylinder under the limit is said at once."""

    def then(book: Any, saved: Any) -> list[str]:
        from logbook.answers.rules import rulebook

        rules = rulebook(book.connection, saved.entry.at_s).for_machine(machine)
        if cylinder_psi is None or cylinder_psi >= rules["cylinder-low"]:
            return []
        return [f"The cylinder is below {rules['cylinder-low']} psi: replace it."]

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
    desk.record(body, at=at, by=by, then=_low_line(cylinder, machine))


@oxygen.command("change")
@click.argument("machine")
@click.option("--size", type=click.Choice(["D", "E", "G", "H", "M"]), help="Cylinder size.")
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
    desk.record(body, at=at, by=by, then=_low_line(cylinder, machine))


@click.group()
def charcoal() -> None:
    """Charcoal canisters of the scavenging."""


@charcoal.command("change")
@click.argument("machine")
@click.option("--weight", type=MASS, help="Weight of the fresh canister: 780g.")
@signed
@click.pass_obj
def charcoal_change(
    desk: "Desk", machine: str, weight: Any, at: str | None, by: str | None
) -> None:
    """Record a fresh canister; weigh it, so that the gain can be told.

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
        from logbook.answers.due import ask
        from logbook.answers.moment import moment_at
        from logbook.sheets.due_text import item_text

        asked = ask(book.connection, moment_at(desk.now(), book.zone))
        view = asked.machines.get(machine)
        return [item_text(item) for item in charcoal_items(asked, view)] if view else []

    desk.record(CharcoalWeight.of(machine=machine, weight_g=weight), at=at, by=by, then=then)
