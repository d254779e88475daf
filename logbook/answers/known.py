"""What the ledger knows for a question: what was last recorded, and what ran and flowed since.

The rules of the other files ask these values alone, so that each of them can be tried without a
ledger. The number of statements does not grow with machines, readings or years.
"""

from datetime import date
from functools import cached_property
from itertools import chain, pairwise
from typing import TYPE_CHECKING

from logbook.answers.cylinders import since_read
from logbook.answers.picked import Key
from logbook.answers.reached import Reached, reached
from logbook.answers.seen import Seen
from logbook.answers.spans import (
    Ran,
    Span,
    Use,
    on_machine,
    through_machine,
    used,
    with_vaporizer,
)
from logbook.answers.statements import LAST_COMPARED
from logbook.projections.lookup import DAY_S, OUTPUT_VERIFICATION

if TYPE_CHECKING:
    from collections.abc import Iterator


class Known(Seen):
    """Everything about some machines and vaporizers up to a moment."""

    @cached_property
    def ran(self) -> dict[Key, Ran]:
        """What ran since the last change of absorbent and charcoal, since each service that is
        planned by run hours, and lately on each vaporizer that may have stood unused."""
        return self._register.ran(self._run_spans())

    def _run_spans(self) -> "Iterator[Span]":
        until_s = self._moment.at_s
        for tag, change in self.absorbent.items():
            yield on_machine(("absorbent", tag), tag, change.at_s, until_s)
        for tag, canister in self.charcoal.items():
            yield on_machine(("charcoal", tag), tag, canister.at_s, until_s)
        for plan in self.plans:
            if plan.run_hours:
                yield from self._of_unit(plan.key, plan.unit, self.clock_of(plan)[1])
        yield from self._lately()

    def _lately(self) -> "Iterator[Span]":
        """The days for which a vaporizer may stand unused; only of one that was verified before
        them is it asked, and a year of cases is added up for no other."""
        rules, today = self._register.rules_at(self._moment.at_s), self._moment.day
        for tag, view in self._vaporizers.items():
            days = int(rules.for_machine(view.machine)["vaporizer-unused-days"])
            verified = self._verified_on(tag)
            if days and verified and (today - verified).days > days:
                yield from self._of_unit(("used", tag), tag, self._moment.at_s - days * DAY_S)

    def _verified_on(self, tag: str) -> date | None:
        """When a vaporizer was last verified, by its services or as its plan tells."""
        told = {plan.unit: plan for plan in self.plans if plan.item == OUTPUT_VERIFICATION}
        if tag in told:
            return self.clock_of(told[tag])[0]
        done = self.services.get((tag, OUTPUT_VERIFICATION))
        return self._moment.day_of(done.at_s) if done else None

    def _of_unit(self, key: Key, unit: str, since_s: int) -> "Iterator[Span]":
        until_s = self._moment.at_s
        if unit in self._machines:
            yield on_machine(key, unit, since_s, until_s)
        else:
            view, stays = self._vaporizers[unit], self._stays.get(unit, [])
            yield from with_vaporizer(key, view, stays, since_s, until_s)

    @cached_property
    def reached(self) -> dict[Key, Reached]:
        """The carbon dioxide that reached each machine's absorbent since its last change."""
        until_s = self._moment.at_s
        spans = [on_machine(tag, tag, one.at_s, until_s) for tag, one in self.absorbent.items()]
        return reached(self._connection, spans, self._register.air_kpa)

    @cached_property
    def in_all(self) -> dict[Key, Ran]:
        """What every unit ran in all."""
        spans = (span for tag in self._units for span in self._of_unit(tag, tag, 0))
        return self._register.ran(spans)

    def used_on(self, tag: str, spans: list[tuple[int, int, int]]) -> dict[Key, Use]:
        """What flowed on a machine in spans, each told as its key, its begin and its end."""
        return used(self._connection, [on_machine(key, tag, *span) for key, *span in spans])

    @cached_property
    def agent_through(self) -> dict[Key, Use]:
        """The agent that went through each machine since its absorbent was changed."""
        wholes = [
            on_machine(tag, tag, change.at_s, self._moment.at_s)
            for tag, change in self.absorbent.items()
        ]
        spans = (through_machine(whole, self._vaporizers, self._stays) for whole in wholes)
        return used(self._connection, (span for parts in spans for span in parts))

    @cached_property
    def sent_to_charcoal(self) -> dict[Key, Use]:
        """The agent of each vaporizer that cases sent to a machine's charcoal since it was last
        known what it held, by machine and vaporizer."""
        wholes = [
            (view, on_machine((machine, tag), machine, one.known_s, self._moment.at_s))
            for machine, one in self.charcoal.items()
            for tag, view in self._vaporizers.items()
        ]
        spans = (
            through_machine(whole, {view.vaporizer: view}, self._stays) for view, whole in wholes
        )
        return used(self._connection, (span for parts in spans for span in parts))

    @cached_property
    def used(self) -> dict[Key, Use]:
        """What each vaporizer used from one known level to the next, by the number of the first;
        and what each oxygen cylinder gave since its gauge was read, by machine and number."""
        return used(self._connection, chain(self._use_spans(), self._oxygen_spans()))

    def _oxygen_spans(self) -> "Iterator[Span]":
        for tag in self._machines:
            if not self.fed_by_pipeline(tag):
                yield from since_read(tag, self.cylinders(tag), self._moment.at_s)

    def _use_spans(self) -> "Iterator[Span]":
        for tag, levels in self.levels.items():
            known = [level for level in levels if level.level_ml is not None]
            pairs = [pair for pair in pairwise(known) if pair[1].before_ml is not None]
            spans = [(level, end.at_s) for level, end in pairs[-LAST_COMPARED:]]
            spans += [(level, self._moment.at_s) for level in known[-1:]]
            view, stays = self._vaporizers[tag], self._stays.get(tag, [])
            for level, until_s in spans:
                yield from with_vaporizer(level.entry, view, stays, level.at_s, until_s)
