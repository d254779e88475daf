"""The table of faults that the README shows, made of the report of one whole run.

``counted.txt`` is what such a run wrote; DEVELOPERS.md tells how. Each row takes its numbers from
the lines of its tests: ``{sum: …}`` is the sum of the numbers that stand at ``#``, ``{lines: …}``
how many lines fit. What no line tells, and what a line with a breach tells, is no row.
"""

import re
from pathlib import Path

COUNTED = Path(__file__).with_name("counted.txt")
ROWS = r"""
what is done | how often, in one run | what came of it
--- | --- | ---
Killed at each of its calls to the system, {lines: kill, (?!post |an answer).*: at #} commands; {lines: kill, post .*: at #} forms of the page; an answer of a check | {sum: kill, (?!post |an answer).*: at #}; {sum: kill, post .*: at #}; {sum: kill, an answer of a check: #} kills | 0 lost, 0 spoilt
Ctrl-C, a shutdown and a closed terminal at each of the calls of {lines: Ctrl-C, .*: at #} commands | {sum: Ctrl-C, .*: at #}; {sum: shutdown, .*: at #}; {sum: closed terminal, .*: at #} | never told otherwise than it was
Killed at each call through a link, {lines: kill through a link, .*: at #} commands; on a disk without links, {lines: kill on a disk without links, .*: at #} commands | {sum: kill through a link, .*: at #}; {sum: kill on a disk without links, .*: at #} kills | 0 lost, 0 spoilt
Two commands that meet at each call of one of them, {lines: two commands that meet, .*: at #} pairs | {sum: two commands that meet, .*: at #} meetings | both are as they were told
Two commands of this program and of an older one that meet at each call, {lines: two versions that meet, .*: at #} pairs | {sum: two versions that meet, .*: at #} meetings | both are as they were told
Output full, closed or without a reader at each writing, {lines: output that fails, .*: #} commands | {sum: output that fails, .*: #} | never told otherwise than it was
Disk full or disk error at each call, once and from then on, {lines: disk errors, (?!post |an answer).*: #} commands; {lines: disk errors, post .*: #} forms of the page; an answer of a check | {sum: disk errors, (?!post |an answer).*: #}; {sum: disk errors, post .*: #}; {sum: disk errors, an answer of a check: #} errors | 0 lost, 0 spoilt
Killed while what a crash left is played back | {sum: kill during recovery from .*: # survivors} crashes, {sum: kill during recovery from .* survivors, # kills} kills | 0 lost, 0 spoilt
What a crash of another file left, put beside the ledger: {lines: what a crash of another file left, .*: #} kinds | {sum: what a crash of another file left, .*: #} commands | told, and nothing played in
The folder moved, linked, written in or given a second name while a command stands at a call, {lines: the folder changes under .*: #} commands | {sum: the folder changes under .*: #} | told as it was, 0 lost
Power cut with unsynced sectors dropped at random; of a new ledger | {sum: power cut: #}; {sum: power cut while founding: #} states | 0 lost
The same with syncing turned off, which must fail | {sum: power cut, nothing synced: #} states | {sum: power cut, nothing synced: .*'lost': #} lost, {sum: power cut, nothing synced: .*'does not verify': #} not verified, {sum: power cut, nothing synced: .*'does not open': #} not opened
Two busy writers killed at once | {sum: kill -9 of two busy writers: #} rounds, {sum: kill -9 of two busy writers: .* rounds, #} notes told as saved | 0 lost
2 and 8 writers at the same time | {sum: 2 writers: #} and {sum: 8 writers: #} notes | 0 lost
The lock held by another program for {sum: a lock held for #}&nbsp;s | once | reading goes on, the writer is told after {sum: a lock held for .* told after #}&nbsp;s
Full disks; files that may not grow, by command; by page; read-only as another user | {sum: full disk: #}; {sum: files limited in size: #}; {sum: files limited in size, post .*: #}; {lines: read-only: .* exits #} | 0 lost; reading goes on where there is room to play back what a crash left
Bytes damaged: bit, byte, sector, pages swapped, end missing | {sum: damaged bytes, .*: #} | {sum: damaged bytes, .* # noticed} noticed, {sum: damaged bytes, .* # in unused bytes} in unused bytes, {sum: damaged bytes, .* # in a name} in a person's name, 0 unnoticed
Bytes of the file's header changed | {sum: bytes changed in the header: #} | noticed, or every entry as before
Tampering through SQLite, {lines: tampering, .*: #} attacks; another value in each of {lines: another value, .*} columns | {sum: tampering, .*: #} looks | exactly the table above
Triggers, views, indexes and tables hidden in the schema under names that are taken; guards made harmless | {sum: hidden in the schema: #}; {lines: a guard made harmless, } | each found
Entries of every kind and any value appended with a right hash, then {sum: hash-right forgeries: .*, # commands} commands on each ledger | {sum: hash-right forgeries: #} in {sum: hash-right forgeries: .* in # ledgers} ledgers | no command failed otherwise than in words
A group's segments, forged with right hashes; damaged | {sum: forged segments: #}, of which {sum: forged segments: .*, # taken} were taken; {sum: segments damaged: #} | refused in words, or every question of the group is answered
A group's centre killed at any moment while three sites hand over, {sum: centre killed under load: .*, # receipts} receipts | {sum: centre killed under load: #} kills | 0 acknowledged lost, 0 held twice
A backup brought back before each answer of a check that somebody walks | {lines: a backup of .* brought back before answer #} | told, nothing half saved
Requests that no browser sends, to {sum: requests to the page: .* at # routes} routes of the page | {sum: requests to the page: #} | none raised, none saved and said otherwise
Clocks that jump; every change of every time zone from 2020 to 2040 | {sum: clock: # changes} changes in {sum: clock: .* in # zones} zones | one daily check a day, times that never were are refused
Upgrades of each released ledger, killed at each call | {sum: upgrade of .* killed: at #} kills | entries and head the same byte for byte
Unfinished checks written by hand into the file; PINs given at once | {sum: unfinished checks written by hand: #}; {sum: PINs given at once: #} times {sum: PINs given at once: .* times #} | refused in words or taken up; each told PIN counts
Backups during writes, restored | {sum: restore drill: #} | the same answers byte for byte
Random orders of events against a plain list | {sum: ledger machine: #} of up to {sum: ledger machine: .* up to #} steps | no difference
Random command lines, input and surroundings, {sum: fuzz: .* of # commands} commands | {sum: fuzz: #} | documented exit codes, nothing saved on an error
"""  # noqa: E501  A row of the table is a line here, too.


def table(report: str) -> str:
    """The table, of the lines of a run.

    Raises:
        ValueError: a line tells of breaches, or none tells what a row needs.
    """
    if breaches := re.findall(r"(?m)^.*\b[1-9]\d* breaches.*$", report):
        raise ValueError(f"the report tells of breaches: {breaches}")

    def number(match: re.Match[str]) -> str:
        found = re.findall(f"(?m)^{match[2].replace('#', '([0-9]+)')}", report)
        if not found:
            raise ValueError(f"the report tells nothing of {match[2]!r}")
        return f"{len(found) if match[1] == 'lines' else sum(map(int, found)):,}"

    rows = re.sub(r"\{(sum|lines): (.*?)\}", number, ROWS).strip().splitlines()
    return "".join(f"| {row} |\n" for row in rows)


def seeds(report: str) -> list[str]:
    """The seeds of a whole run, one unless parts of it were repeated."""
    return sorted(set(re.findall(r"\[full, seed (\d+),", report)))
