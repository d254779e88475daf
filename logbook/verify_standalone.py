#!/usr/bin/env python3
"""Verify a gas-machine ledger, or an evidence pack, with nothing but Python's standard library.

    python3 verify_standalone.py LEDGER|PACK [HEAD]

The rule. The ledger is one SQLite file. Table ``ledger`` holds the ledger's uuid; table ``entry``
holds the entries. All hashes are SHA-256 in lower-case hexadecimal.

    h(0) = SHA-256( "gas-machine-logbook genesis-v1\\n" + uuid )
    h(n) = SHA-256( "gas-machine-logbook entry-v1\\n" + h(n-1) as 32 bytes
                    + n as 8 bytes, most significant first
                    + id, kind, happened_at, happened_local, recorded_at, recorded_local, by,
                      joined by line feeds, + line feed + body )        everything in UTF-8

The stored hash of entry n must be h(n), n must count from 1 without a gap, and body must be JSON
in one spelling: keys sorted, no spaces, ASCII only, no fractions, no number of 2^53 or more. Test
vectors:

    uuid 00000000-0000-4000-8000-000000000000
    h(0) = 642ef19ada46d1e1da34e946f7adba059030b1a681e0b542cae159249140befd
    entry 1: id 00000000-0000-4000-8000-000000000001, kind note, happened_at and recorded_at
             2026-03-02T14:30:00Z, happened_local and recorded_local 2026-03-02T07:30:00-07:00,
             by KO, body {"text":"first"}
    h(1) = 297af6715438c4d8b8720df9796a0e6b89ca70f8537ad8022240c700ea0d76e7

With HEAD (64 digits, spaces allowed) the ledger must contain an entry with that hash. Exit code 0:
it holds; 4: it does not, and the first bad entry is named; 2: wrong use. What this program cannot
see: a whole chain written anew (give it a HEAD you kept), and what is no part of the chain: names
of people, and the tables that answer questions. A journal that a crash left beside the ledger is
played back, as by every program that opens it.

A PACK is a folder. SHA256SUMS names every other file with its SHA-256; checkpoint.txt tells the
ledger's uuid, number of entries and h of the last one; each line of entries.jsonl is an entry n as
JSON, its columns as they are stored, with h(n-1) as "before". Where entries between two others are
missing, these do not continue each other, but each has its own h(n). Where "left_out" names a
field that was taken out of a body, h(n) stands there and cannot be worked out anew without it.
Entries are missing in a pack by right. So whoever takes out one more, or the last ones, and makes
SHA256SUMS anew, leaves a pack that verifies. That is seen with a HEAD that is gone, and with the
SHA-256 of SHA256SUMS as told when the pack was made: it can be given in place of a HEAD.
"""

import hashlib
import json
import os
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

GENESIS = b"gas-machine-logbook genesis-v1\n"
LINK = b"gas-machine-logbook entry-v1\n"
HEADER = ("id", "kind", "happened_at", "happened_local", "recorded_at", "recorded_local", "by")
ROWS = 'SELECT seq, "' + '", "'.join(HEADER) + '", body, hash FROM entry ORDER BY seq'
# SHA-256 over the statements of the guards that refuse changes, sorted and joined by line feeds.
GUARDS = "1b2790e8fc9d263a58565a7e97fdc5bffbc8286826546de0214202c55689cba1"


def genesis(uuid):
    """h(0) of a ledger."""
    return hashlib.sha256(GENESIS + uuid.encode()).hexdigest()


def link(previous, n, header, body):
    """h(n) of an entry that follows ``previous``."""
    text = "\n".join([*header, body]).encode()
    return hashlib.sha256(LINK + bytes.fromhex(previous) + n.to_bytes(8, "big") + text).hexdigest()


def whole(number):
    """A number that every program reads alike."""
    if not number.lstrip("-").isdigit() or abs(int(number)) >= 2**53:
        raise ValueError(f"programs read the number {number} differently")
    return int(number)


def one_spelling(body):
    """Whether a body is JSON in its one spelling."""
    try:
        value = json.loads(body, parse_int=whole, parse_float=whole, parse_constant=whole)
        return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=True) == body
    except (ValueError, RecursionError):
        return False


def check(database, head=None):
    """Raise ValueError at the first thing that does not hold; else answer count and head."""
    told = database.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if told != "ok":
        raise ValueError(f"file: {told}")
    triggers = database.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'")
    if hashlib.sha256("\n".join(sorted(row[0] for row in triggers)).encode()).hexdigest() != GUARDS:
        raise ValueError("guards: a guard is missing, was changed or added")
    (uuid,) = database.execute("SELECT uuid FROM ledger").fetchone() or [""]
    last, count = genesis(uuid), 0
    seen = head in (None, last)
    for n, *header, body, stored in database.execute(ROWS):
        count += 1
        if n != count or stored != (last := link(last, n, header, body)):
            raise ValueError(f"chain: entry {count} does not continue the chain")
        if not one_spelling(body):
            raise ValueError(f"canonical: entry {count} is not in its canonical spelling")
        seen = seen or last == head
    if not seen:
        raise ValueError("checkpoint: the head is not in this ledger")
    return count, last


def check_files(folder):
    """Raise ValueError unless the files are those that were put there; else answer their sum."""
    listed = (folder / "SHA256SUMS").read_bytes()
    lines = listed.decode().splitlines()
    told = {name: sha256 for sha256, _, name in (line.partition("  ") for line in lines)}
    files = (path for path in folder.rglob("*") if not path.is_dir())
    there = {path.relative_to(folder).as_posix() for path in files} - {"SHA256SUMS"}
    for name in sorted(told.keys() ^ there):
        raise ValueError(f"files: {name} " + ("is missing" if name in told else "is not listed"))
    for name in sorted(told):
        with (folder / name).open("rb") as file:
            if hashlib.file_digest(file, "sha256").hexdigest() != told[name]:
                raise ValueError(f"files: {name} is not the one that was put there")
    return hashlib.sha256(listed).hexdigest()


def check_pack(folder, head=None):
    """Raise ValueError at the first thing that does not hold; else answer it in words."""
    sums = check_files(folder)
    lines = (folder / "checkpoint.txt").read_text("utf-8").splitlines()
    told = dict(line.partition(": ")[::2] for line in lines)
    total, told_head = int(told["entries"]), told["head"].replace(" ", "")
    n, last, count, bare = 0, genesis(told["ledger"]), 0, []
    seen = head in (None, told_head, sums)
    with (folder / "entries.jsonl").open(encoding="ascii") as entries:
        for line in entries:
            row = json.loads(line)
            if row["seq"] <= n or (row["seq"] == n + 1 and row["before"] != last):
                raise ValueError(f"chain: entry {row['seq']} does not continue the one before it")
            n, count = row["seq"], count + 1
            header = [row[name] for name in HEADER]
            if "left_out" in row:
                bare.append(row["left_out"])
            elif row["hash"] != link(row["before"], n, header, row["body"]):
                raise ValueError(f"chain: entry {n} does not have its hash")
            elif not one_spelling(row["body"]):
                raise ValueError(f"canonical: entry {n} is not in its canonical spelling")
            last = row["hash"]
            seen = seen or last == head
    if n > total or (n == total and last != told_head):
        raise ValueError("checkpoint: it does not tell the last entry")
    if not seen:
        raise ValueError("checkpoint: it is neither a head in this pack nor the sum of its files")
    end = "up to its head" if n == total else f"the last of them entry {n}"
    text = f"{count} of {total} entries, {end}; head {told_head}"
    text += f"; {len(bare)} without {bare[0]}, their hashes unproved" if bare else ""
    return f"{text}\nSHA-256 of SHA256SUMS: {sums}"


def ledger_text(path, head=None):
    """The same of a ledger, read in one transaction, so that everything is of one moment."""
    if os.path.isfile(wal := path + "-wal") and os.path.getsize(wal):
        raise ValueError(f"file: {wal} was left by another program and would change it")
    uri = Path(path).as_uri() + "?mode=rw"
    with closing(sqlite3.connect(uri, uri=True, isolation_level=None)) as database:
        database.execute("BEGIN")
        count, last = check(database, head)
    return f"{count} entries, head {last}"


def main(arguments):
    """Verify a file or a folder, and say what holds or does not."""
    if len(arguments) not in (1, 2) or not os.path.exists(arguments[0]):
        print(__doc__.split("\n\n")[1].strip(), file=sys.stderr)
        return 2
    head = "".join(arguments[1].split()).lower() if len(arguments) == 2 else None
    path = os.path.realpath(arguments[0])
    try:
        told = check_pack(Path(path), head) if os.path.isdir(path) else ledger_text(path, head)
    except (
        ValueError, TypeError, LookupError, ArithmeticError, AttributeError, OSError,
        RecursionError, sqlite3.Error,
    ) as error:  # fmt: skip
        print(f"NOT VERIFIED: {error}")
        return 4
    print(f"Verified: {told}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
