"""What follows from absorbent, agent, oxygen and charcoal."""

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

from logbook.answers.absorbent import load_since_change
from logbook.answers.agent import agent_left
from logbook.answers.charcoal import charcoal_items
from logbook.answers.consequence import (
    AboveCapacity,
    Care,
    Caution,
    Consequence,
    CylinderLow,
    Expired,
    HeavierThanCanister,
    Left,
    LighterThanFresh,
    OldCharge,
    PipelineOff,
    Stands,
    UseSeen,
)
from logbook.answers.consequences.after import After
from logbook.answers.drift import Compared, agent_compared, drifts, oxygen_compared
from logbook.answers.due import worst_first
from logbook.answers.item import ask_in
from logbook.answers.moment import moment_at
from logbook.arithmetic.oxygen import pipeline_allowed
from logbook.times import utc_from_epoch_s

if TYPE_CHECKING:
    from logbook.entries.base import Body
    from logbook.entries.supplies import (
        AbsorbentChange,
        AgentFill,
        AgentLevel,
        CharcoalWeight,
        CylinderChange,
        OxygenReading,
    )


def absorbent_change(after: "After[AbsorbentChange]") -> Iterator[Consequence]:
    """What the old charge had, and whether the new one is sound and fits."""
    yield from _old_charge(after)
    yield from _expired(after, after.body.expiry, agent=False)
    view = after.ask().machines.get(after.body.machine)
    usual_g, mass_g = view.absorbent_g if view else None, after.body.mass_g
    if usual_g is not None and mass_g is not None and mass_g > usual_g:
        yield HeavierThanCanister(mass_g, usual_g)


def _expired(after: "After[Body]", expiry: date | None, *, agent: bool) -> Iterator[Consequence]:
    """A charge or bottle is sound on its last day."""
    if expiry and expiry < after.moment.day_of(after.entry.at_s):
        yield Expired(expiry, agent)


def _old_charge(after: "After[AbsorbentChange]") -> Iterator[Consequence]:
    """What the charge had that was taken out, as far as a change before it is recorded."""
    machine, at_s = after.body.machine, after.entry.at_s
    before = moment_at(utc_from_epoch_s(at_s - 1), after.moment.zone)
    asked = ask_in(after.register, before, machine)
    old = asked.known.absorbent.get(machine)
    if old is not None:
        days = (before.day_of(at_s) - before.day_of(old.at_s)).days
        yield OldCharge(load_since_change(asked, machine).ran_s, days)


def agent_fill(after: "After[AgentFill]") -> Iterator[Consequence]:
    """Whether the bottle is sound, and what follows from any level."""
    yield from _expired(after, after.body.expiry, agent=True)
    yield from agent(after)


def agent(after: "After[AgentFill | AgentLevel]") -> Iterator[Consequence]:
    """What is probably left, and what its use says of the vaporizer."""
    asked, level_ml = after.ask(), after.body.level_ml
    view = asked.vaporizers[after.body.vaporizer]
    left = agent_left(asked, view)
    yield Left(view.vaporizer, left)
    # What was poured in stands on the estimate before it, which is all that is known.
    level_ml = left.left_ml if level_ml is None else level_ml
    compared = agent_compared(asked, view)
    yield from _use_seen(after, [one for one in compared if one.entry <= after.entry.seq], "mL")
    if level_ml is not None and view.capacity_ml is not None and level_ml > view.capacity_ml:
        yield AboveCapacity(view.vaporizer)


def _use_seen(
    after: "After[Body]", compared: list[Compared], measure: str
) -> Iterator[Consequence]:
    seen = [UseSeen(one, measure) for one in compared if one.entry == after.entry.seq]
    yield from seen
    if seen and drifts(compared):
        yield Caution(Care.USE_DRIFTS)


def oxygen(after: "After[OxygenReading | CylinderChange]") -> Iterator[Consequence]:
    """A cylinder or a pipeline outside its limits, and what a use that drifts says."""
    asked, machine, gauge_psi = after.ask(), after.body.machine, after.body.cylinder_psi
    rules = asked.rules.for_machine(machine)
    if gauge_psi is not None and gauge_psi < rules["cylinder-low"]:
        yield CylinderLow(rules["cylinder-low"])
    pipeline_psi, allowed = getattr(after.body, "pipeline_psi", None), pipeline_allowed(rules)
    if pipeline_psi is not None and not allowed.includes(pipeline_psi):
        yield PipelineOff(allowed)
    yield from _use_seen(after, oxygen_compared(asked, machine), "L")


def charcoal(after: "After[CharcoalWeight]") -> Iterator[Consequence]:
    """A weight below that of the fresh canister, and how its clocks stand."""
    asked = after.ask()
    view = asked.machines.get(after.body.machine)
    canister = asked.known.charcoal.get(after.body.machine)
    if canister and canister.fresh_g is not None and after.body.weight_g < canister.fresh_g:
        yield LighterThanFresh(canister.fresh_g)
    for item in worst_first(charcoal_items(asked, view)) if view else []:
        yield Stands(item)
