"""What is used up: absorbent, agent, charcoal."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import (
    AIR,
    DURATION,
    FILLED,
    FLOW,
    MASS,
    PERCENT,
    TAG,
    VOLUME,
    json_option,
    signed,
)
from logbook.vocabulary import ABSORBENT_KINDS, AGENTS

if TYPE_CHECKING:
    from decimal import Decimal

    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content


@click.group()
def absorbent() -> None:
    """Absorbent. Colour can come back on standing, so the clocks count, not the colour.

    \b
    Examples:
      logbook absorbent change bay1 --by KO
      logbook absorbent change bay1 --mass 1200g --at 7:30 --by KO
    """


@absorbent.command("change")
@click.argument("machine", type=TAG)
@click.option("--mass", type=MASS, help="How much was put in: 1200g.")
@click.option(
    "--kind", type=click.Choice(ABSORBENT_KINDS), help="Where it is not the machine's usual kind."
)
@click.option("--lot", help="Lot number of the fresh absorbent.")
@click.option("--expiry", type=FILLED, metavar="DATE", help="Its expiry date: 2027-06-30.")
@click.option("--old", "old_granules", help="What the old granules were like.")
@click.option("--because", help="Why it was changed.")
@signed
@click.pass_obj
def absorbent_change(
    desk: "Desk", machine: str, mass: Any, kind: str | None, lot: str | None,
    expiry: str | None, old_granules: str | None, because: str | None, at: str | None,
    by: str | None,
) -> None:  # fmt: skip
    """Record fresh absorbent; its clocks start anew.

    \b
    Examples:
      logbook absorbent change bay1 --by KO
      logbook absorbent change bay1 --mass 1200g --kind soda-lime --lot A17 --old hard --by KO
    """
    from logbook.entries.supplies import AbsorbentChange

    def content(opened: "Opened") -> "Content":
        day = opened.day(expiry, "--expiry") if expiry else None
        body = AbsorbentChange.of(
            machine=machine, mass_g=mass, absorbent_kind=kind, lot=lot, expiry=day,
            old_granules=old_granules, reason=because,
        )  # fmt: skip
        return body, desk.instant(opened, at)

    desk.record(content, by=by)


@click.group()
def agent() -> None:
    """Liquid agent in the vaporizers.

    \b
    Examples:
      logbook agent fill iso1 --level 250ml --by KO
      logbook agent level iso1 180ml --by KO
    """


@agent.command("fill")
@click.argument("vaporizer", type=TAG)
@click.argument("amount", type=VOLUME, required=False)
@click.option("--added", type=VOLUME, help="How much was poured in: 100ml.")
@click.option("--level", type=VOLUME, help="The level after it: 240ml.")
@click.option("--lot", help="Lot number of the bottle.")
@click.option("--expiry", type=FILLED, metavar="DATE", help="Its expiry date: 2027-06-30.")
@signed
@click.pass_obj
def agent_fill(
    desk: "Desk", vaporizer: str, amount: Any, added: Any, level: Any, lot: str | None,
    expiry: str | None, at: str | None, by: str | None,
) -> None:  # fmt: skip
    """Record a fill: what was added, or the level after it.

    An AMOUNT alone can be either, and is asked about.

    \b
    Examples:
      logbook agent fill iso1 --level 250ml --by KO
      logbook agent fill iso1 --added 100ml --lot B22 --by KO
    """
    from logbook.entries.supplies import AgentFill

    if amount is not None and added is None and level is None:
        added, level = _poured_or_read(vaporizer, amount)
        # What was answered belongs to the words by which a line typed again is known.
        click.get_current_context().params.update(added=added, level=level)
    elif amount is not None or (added is None and level is None):
        raise click.UsageError("say --added 100ml, what was poured in, or --level 240ml, after it")

    def content(opened: "Opened") -> "Content":
        day = opened.day(expiry, "--expiry") if expiry else None
        told = {"added_ml": added, "level_ml": level, "lot": lot, "expiry": day}
        return AgentFill.of(vaporizer=vaporizer, **told), desk.instant(opened, at)

    desk.record(content, by=by)


def _poured_or_read(vaporizer: str, amount: "Decimal") -> "tuple[Decimal | None, Decimal | None]":
    """Which of the two an amount is: what was poured in, or the level after it."""
    from logbook.cli.desk import has_terminal
    from logbook.units import format_decimal

    told = f"{format_decimal(amount)}ml"
    if not has_terminal():
        line = f"logbook agent fill {vaporizer}"
        raise click.UsageError(
            f"{told} can be what was poured in, or the level after it; write it like: "
            f"{line} --added {told}, or: {line} --level {told}"
        )
    keys = {"1": (amount, None), "2": (None, amount)}
    question = f"Is {told} 1 what was poured in, or 2 the level after it?"
    return keys[click.prompt(question, type=click.Choice(list(keys)), show_choices=False)]


@agent.command("level")
@click.argument("vaporizer", type=TAG)
@click.argument("amount", type=VOLUME, required=False)
@click.option("--level", type=VOLUME, help="The same, said as with a fill: 180ml.")
@signed
@click.pass_obj
def agent_level(
    desk: "Desk", vaporizer: str, amount: Any, level: Any, at: str | None, by: str | None
) -> None:
    """Record the level read at the sight glass.

    \b
    Examples:
      logbook agent level iso1 180ml --by KO
      logbook agent level iso1 180ml --at "yesterday 18:00" --by KO
    """
    from logbook.entries.supplies import AgentLevel

    if (amount is None) == (level is None):
        raise click.UsageError(
            "Missing the level, or said twice; say it like: logbook agent level iso1 180ml"
        )
    body = AgentLevel.of(vaporizer=vaporizer, level_ml=level if amount is None else amount)
    desk.record(body, at=at, by=by)


@agent.command("use")
@click.option("--agent", "name", type=click.Choice(AGENTS), required=True)
@click.option("--dial", type=PERCENT, required=True, help="Dial in percent: 2.")
@click.option("--flow", type=FLOW, required=True, help="Oxygen flow: 1L/min.")
@click.option("--for", "lasted", type=DURATION, required=True, help="How long: 60min.")
@click.option(
    "--ambient-pressure", "air", type=AIR, help="Of the air, instead of the clinic's: 83.4kPa."
)
@json_option
@click.pass_obj
def agent_use(
    desk: "Desk", name: str, dial: Any, flow: Any, lasted: int, air: Any, as_json: bool
) -> None:
    """How much liquid agent a dial setting uses. Needs no ledger.

    In thin air more gas passes a flowmeter than it reads, so that more is used.

    \b
    Examples:
      logbook agent use --agent isoflurane --dial 2 --flow 1L/min --for 60min
      logbook agent use --agent sevoflurane --dial 3 --flow 2L/min --for 1h30 --json
    """
    from logbook.arithmetic.agent import Stretch, liquid_used_ml
    from logbook.cli.terminal import show
    from logbook.sheets.sums import AgentUseSheet

    if air is None and desk.path.is_file():
        with desk.reading() as book:
            air = book.clinic.air_kpa
    used_ml = liquid_used_ml(name, [Stretch(lasted, flow, dial)], air_kpa=air)
    show(AgentUseSheet(name, lasted, used_ml, air, flow, dial), as_json=as_json)


@click.group()
def charcoal() -> None:
    """Charcoal canisters of the scavenging.

    \b
    Examples:
      logbook charcoal change dental --weight 780g --by KO
      logbook charcoal weigh dental 815g --by KO
    """


@charcoal.command("change")
@click.argument("machine", type=TAG)
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
@click.argument("machine", type=TAG)
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

    desk.record(CharcoalWeight.of(machine=machine, weight_g=weight), at=at, by=by)
