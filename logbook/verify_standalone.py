#!/usr/bin/env python3
"""Verify a gas-machine ledger with nothing but Python's standard library.

    python3 verify_standalone.py LEDGER [HEAD]

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


def main(arguments):
    """Verify in one transaction, so that everything is read as of one moment."""
    if len(arguments) not in (1, 2) or not os.path.isfile(arguments[0]):
        print(__doc__.split("\n\n")[1].strip(), file=sys.stderr)
        return 2
    head = "".join(arguments[1].split()).lower() if len(arguments) == 2 else None
    try:
        path = os.path.realpath(arguments[0])
        if os.path.isfile(wal := path + "-wal") and os.path.getsize(wal):
            raise ValueError(f"file: {wal} was left by another program and would change it")
        uri = Path(path).as_uri() + "?mode=rw"
        with closing(sqlite3.connect(uri, uri=True, isolation_level=None)) as database:
            database.execute("BEGIN")
            count, last = check(database, head)
    except (ValueError, TypeError, ArithmeticError, AttributeError, sqlite3.Error) as error:
        print(f"NOT VERIFIED: {error}")
        return 4
    print(f"Verified: {count} entries, head {last}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
