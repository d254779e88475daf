"""Cases: that they last, that a machine runs one at a time, that their stretches fit in."""

from typing import TYPE_CHECKING

from sqlalchemy import Connection, func, select

from logbook.errors import Act, InputError
from logbook.projections import tables
from logbook.projections.lookup import cases_between, running_case
from logbook.recording.refusals.claim import Claim, refuse_time
from logbook.vocabulary import LONGEST_CASE_S

if TYPE_CHECKING:
    from logbook.entries.base import Body
    from logbook.entries.case import Case, CaseBegin, CaseEnd, Segment


def case(claim: "Claim[Case]") -> None:
    """A case that was logged afterwards."""
    body, end_s = claim.body, int(claim.body.ended_at.timestamp())
    _refuse_open_segments(body.segments)
    _refuse_span(claim, claim.at_s, end_s)
    _refuse_overlap(claim, body.machine, claim.at_s, end_s, claim.own)
    _refuse_long_segments(body.segments, end_s - claim.at_s)
    refuse_time(claim.connection, body.ended_at, claim.now, "end")


def case_begin(claim: "Claim[CaseBegin]") -> None:
    """A case that begins while none runs on its machine."""
    body, own = claim.body, claim.own
    _refuse_open_segments(body.segments)
    end_s = None if own is None else _live_end_s(claim.connection, own)
    if end_s is None:
        running = running_case(claim.connection, body.machine)
        if running and running.entry != own:
            raise InputError(
                f"case {running.entry} still runs on {body.machine} since "
                f"{claim.local(running.began_s)}",
                "end it first",
                act=Act.END_CASE,
                about=body.machine,
            )
        end_s = claim.at_s + 1  # Its end is not known yet, and is held against later cases then.
    _refuse_span(claim, claim.at_s, end_s)
    _refuse_overlap(claim, body.machine, claim.at_s, end_s, own)


def case_end(claim: "Claim[CaseEnd]") -> None:
    """The end of a case that was begun live and runs still."""
    body = claim.body
    _refuse_open_segments(body.segments)
    query = select(tables.case).where(tables.case.c.entry == body.case_entry)
    begun = claim.connection.execute(query).first()
    if begun is None:
        raise InputError(f"entry {body.case_entry} began no case", act=Act.LIST_CASES)
    ended_live = _live_end_s(claim.connection, begun.entry, but=claim.own) is not None
    if begun.ended_s is not None or ended_live:
        raise InputError(f"case {begun.entry} has ended already", "correct it instead")
    _refuse_span(claim, begun.began_s, claim.at_s)
    _refuse_overlap(claim, begun.machine, begun.began_s, claim.at_s, begun.entry)
    _refuse_long_segments(body.segments, claim.at_s - begun.began_s)


def _live_end_s(connection: Connection, case_entry: int, but: int | None = None) -> int | None:
    """When a case that was begun live ended, by another entry than ``but``."""
    end = tables.case_end
    query = select(func.max(end.c.ended_s)).where(
        end.c.case_entry == case_entry, end.c.entry != but
    )
    return connection.execute(query).scalar()


def _refuse_span(claim: "Claim[Body]", began_s: int, ended_s: int) -> None:
    if 0 < ended_s - began_s <= LONGEST_CASE_S:
        return
    began, ended = claim.local(began_s), claim.local(ended_s)
    if ended_s <= began_s:
        raise InputError(f"the end {ended} is not after the begin {began}", "give a later end")
    raise InputError(
        f"the case would last {(ended_s - began_s) / 3600:.1f} h, from {began} to {ended}",
        f"give at most {LONGEST_CASE_S // 3600} h, or split it",
    )


def _refuse_overlap(
    claim: "Claim[Body]", machine: str, began_s: int, ended_s: int, own: int | None
) -> None:
    for other in claim.connection.execute(cases_between(machine, began_s, ended_s)):
        if other.entry != own:
            end = claim.local(other.end_s) if other.end_s else "still running"
            raise InputError(
                f"case {other.entry} ran on {machine} then, from {claim.local(other.began_s)} "
                f"to {end}",
                "give other times or correct it",
            )


def _refuse_open_segments(segments: "tuple[Segment, ...]") -> None:
    if any(part.duration_s is None for part in segments[:-1]):
        raise InputError("only the last segment may lack a duration", "give the others theirs")


def _refuse_long_segments(segments: "tuple[Segment, ...]", ran_s: int) -> None:
    in_all_s = sum(part.duration_s or 0 for part in segments)
    if in_all_s > ran_s:
        raise InputError(
            f"the segments last {in_all_s / 60:.0f} min, longer than the case of "
            f"{ran_s / 60:.0f} min",
            "shorten them",
        )
