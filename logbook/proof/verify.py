"""Verifying a ledger: everything is looked at, on a copy, and told as findings.

A copy, because a file that a crash left half-way must be read together with its journal, and
because nobody should wait to write until a long look is over.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Connection

from logbook.clock import now
from logbook.errors import NewerLedger, NotALedger, NotSaved, ZoneMissing
from logbook.ledger.connect import check_identity, engine_for, is_full
from logbook.ledger.copying import copied
from logbook.ledger.file import odd_neighbour, real_path
from logbook.ledger.recovery import foreign_journal
from logbook.ledger.schema import HEAD
from logbook.ledger.sqlite_file import SqliteFile
from logbook.ledger.store import ledger_uuid
from logbook.proof.checkpoint import Checkpoint, Expected, checkpoint, finding_against
from logbook.proof.findings import (
    UNREADABLE,
    Finding,
    chain_findings,
    correction_findings,
    file_findings,
    identity_findings,
    people_findings,
    projection_findings,
    reference_findings,
)
from logbook.proof.remarks import Remark, refused_today, remarks
from logbook.proof.shape import guard_findings, schema_findings
from logbook.recording.opening import bring_up_to_date
from logbook.times import utc_text


@dataclass(frozen=True, slots=True)
class Verified:
    """Where the ledger stands, and every finding; none means that all checks passed.

    Remarks are on entries that hold; they are made only where there are no findings.
    """

    checkpoint: Checkpoint | None
    findings: list[Finding]
    remarks: list[Remark] = field(default_factory=list)


def verify(
    path: Path, expected: Expected | None = None, *, thorough: bool = False, name: str = ""
) -> Verified:
    """Look at everything; ``thorough`` also holds each entry against what is refused today.

    ``name`` is what a person calls the file, where it is a copy in passing.

    Raises:
        NotALedger: the file is no ledger of this program at all.
        NewerLedger: a newer program wrote it.
        NotSaved: another program held the file for too long.
        ZoneMissing: this computer does not know the clinic's time zone.
    """
    name = name or str(path)
    path = real_path(path)
    if sentence := odd_neighbour(path) or foreign_journal(path):
        return Verified(None, [Finding("file", sentence)])
    with copied(path) as copy:
        broken = list(file_findings(copy, name))
        if broken:
            return Verified(None, broken)
        findings: list[Finding] = []
        try:
            while True:
                with (
                    engine_for(copy, writes=False).begin() as connection,
                    closing(sqlite3.connect(copy)) as raw,
                ):
                    _refuse_newer(connection, raw, name)
                    for finding in _all_findings(connection, raw, expected):
                        findings.append(finding)
                    if findings or _is_current(raw):
                        shown = [] if findings else _remarks(raw, thorough=thorough)
                        return Verified(checkpoint(connection, now()), findings, shown)
                # A ledger of an older program is looked at again as it opens in this one.
                bring_up_to_date(SqliteFile(copy, name))
        except (NotALedger, NewerLedger, NotSaved, ZoneMissing):
            raise
        except UNREADABLE as error:
            if is_full(error):
                raise
            told = f"it cannot be read: {' '.join(str(error).split())[:200]}"
            return Verified(None, [*findings, Finding("entries", told)])


def _remarks(raw: sqlite3.Connection, *, thorough: bool) -> list[Remark]:
    return [*remarks(raw), *(refused_today(raw) if thorough else ())]


def _refuse_newer(connection: Connection, raw: sqlite3.Connection, name: str) -> None:
    """Judge no ledger of a newer program; but a number set by hand leaves our tables as they are,
    and is a finding."""
    try:
        check_identity(connection, name)
    except NewerLedger:
        if any(schema_findings(raw, current=True)):
            raise


def _all_findings(
    connection: Connection, raw: sqlite3.Connection, expected: Expected | None
) -> Iterator[Finding]:
    """Tables are compared only where the chain holds, and where this program made them."""
    current, version = _is_current(raw), _version(raw)
    changed = [*schema_findings(raw, current=current), *guard_findings(raw)]
    broken = list(chain_findings(raw, ledger_uuid(connection)))
    yield from (*changed, *identity_findings(raw, version), *broken)
    if current and not broken and all(one.check == "guards" for one in changed):
        yield from correction_findings(raw)
        yield from projection_findings(raw)
        yield from people_findings(raw)
        yield from reference_findings(raw)
    differs = finding_against(connection, expected) if expected else None
    if differs:
        yield Finding("checkpoint", differs)


def _version(raw: sqlite3.Connection) -> str:
    (version,) = raw.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(version)


def _is_current(raw: sqlite3.Connection) -> bool:
    return _version(raw) == HEAD


MOST_SHOWN = 5
"""How many remarks of one kind are printed; ``--json`` holds all. Our own choice."""


def verified_text(told: Verified) -> str:
    """What was looked at, in a few lines: the findings, or the count, the head, the remarks."""
    if told.findings:
        rows = [f"NOT VERIFIED: {one.check}: {one.sentence}" for one in told.findings]
        return "\n".join(rows)
    assert told.checkpoint is not None  # noqa: S101  Without findings there is a checkpoint.
    one = told.checkpoint
    rows = [f"Verified: {one.entries} entries, {utc_text(one.written_at)}.", f"head {one.groups}"]
    by_check: dict[str, list[Remark]] = {}
    for remark in told.remarks:
        by_check.setdefault(remark.check, []).append(remark)
    for of_one in by_check.values():
        rows += [f"Remark: {remark.sentence}." for remark in of_one[:MOST_SHOWN]]
        if len(of_one) > MOST_SHOWN:
            rows.append(f"Remark: and {len(of_one) - MOST_SHOWN} more like this, told in its JSON.")
    return "\n".join(rows)
