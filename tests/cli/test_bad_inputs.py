"""What a hand gets wrong: every value of every command is refused in one sentence, nothing saved.

``LINES`` holds, for every command, values with which it works; each test replaces one of them. A
command or an option without a line here fails a test of its own.
"""

import os
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from logbook.checklists import builtin_names
from logbook.cli import logbook, options, profile
from logbook.cli.desk import Desk
from logbook.cli.failures import run
from logbook.cli.importing import UNITS
from logbook.page import server
from logbook.recording.importing.sheets import SHEETS
from tests.cli.commandtree import leaves, without_store
from tests.conftest import NOW, Ran

Command = Callable[..., Ran]
Bad = tuple[tuple[str, str], ...]
"""Values that are refused, each with words of the sentence that refuses it."""

TIME: Bad = (
    ("2026-03-07 08:00", "lies in the future"),
    ("1999-12-31 08:00", "before the year 2000"),
    ("2026-03-08 02:30", "does not exist in America/Denver"),
    ("2025-11-02 01:30", "happens twice in America/Denver"),
    ("25:00", "not a time of the day"),
    ("2026-02-31 08:00", "not in the calendar"),
    ("2026-03-02", "a day without a time"),
    ("٧:١٠", "is not a time"),
    ("nan", "is not a time"),
    ("1e3", "is not a time"),
    ("-7:10", "is not a time"),
    ("7:10kg", "is not a time"),
    ("", "is empty"),
)
# An end that is too late or too early is told as a case that cannot have been.
END: Bad = (("2026-03-07 08:00", "would last"), ("1999-12-31 08:00", "not after"), *TIME[2:])
DAY: Bad = (
    ("2026-02-31", "not in the calendar"),
    ("1899-12-31", "not in the years"),
    ("٢٠٢٦-٠٣-٠٢", "is not a date"),
    ("02.03.2026", "is not a date"),
    ("7:10", "is not a date"),
    ("nan", "is not a date"),
    ("1e3", "is not a date"),
    ("-1", "is not a date"),
    ("", "is empty"),
)
PAST_DAY: Bad = (("2026-03-09", "lies in the future"), *DAY)
FIRST_DAY: Bad = (("1999-12-31", "before the year 2000"), *PAST_DAY)
AS_OF: Bad = (
    ("1999-12-30", "before the year 2000"),
    ("2026-03-08 02:30", "does not exist"),
    ("2025-11-02 01:30", "happens twice"),
    ("25:00", "not a time of the day"),
    *(bad for bad in DAY if bad[0] != "7:10"),
)
MASS: Bad = (
    ("٢٤kg", "is not a weight"),
    ("nan", "is not a weight"),
    ("inf", "is not a weight"),
    ("infkg", "is not a weight"),
    ("1e3", "is not a weight"),
    ("1e3kg", "is not a weight"),
    ("-24kg", "below zero"),
    ("24", "needs its unit"),
    ("24psi", "the unit psi does not fit"),
    ("24mL", "the unit mL does not fit"),
    ("24,5kg", "comma"),
    ("9999999999999kg", "more than 12 digits"),
    ("999999kg", ""),
    ("", "is empty"),
)
VOLUME: Bad = (
    ("٢٤mL", "is not a volume"),
    ("nan", "is not a volume"),
    ("inf", "is not a volume"),
    ("1e3mL", "is not a volume"),
    ("-24mL", "below zero"),
    ("24", "needs its unit"),
    ("24kg", "the unit kg does not fit"),
    ("24,5mL", "comma"),
    ("999999L", ""),
    ("", "is empty"),
)
FLOW: Bad = (
    ("١L/min", "is not a flow"),
    ("nan", "is not a flow"),
    ("inf", "is not a flow"),
    ("1e3mL/min", "is not a flow"),
    ("-1L/min", "below zero"),
    ("1", "needs its unit"),
    ("1L", "the unit L does not fit"),
    ("1,5L/min", "comma"),
    ("999999L/min", ""),
    ("", "is empty"),
)
GAUGE: Bad = (
    ("١psi", "is not a cylinder or pipeline pressure"),
    ("nan", "is not a cylinder or pipeline pressure"),
    ("inf", "is not a cylinder or pipeline pressure"),
    ("1e3psi", "is not a cylinder or pipeline pressure"),
    ("-1psi", "below zero"),
    ("1500", "needs its unit"),
    ("30cmH2O", "does not fit"),
    ("1,5psi", "comma"),
    ("999999psi", ""),
    ("", "is empty"),
)
PERCENT: Bad = (
    ("٢", "is not a plain number"),
    ("nan", "is not a plain number"),
    ("inf", "is not a plain number"),
    ("1e1", "is not a plain number"),
    ("2psi", "is not a plain number"),
    ("2,5", "comma"),
    ("-1", "within 0 to 100"),
    ("101", "within 0 to 100"),
    ("", "is empty"),
)
NUMBER: Bad = (
    ("٦", "is not a plain number"),
    ("nan", "is not a plain number"),
    ("inf", "is not a plain number"),
    ("1e3", "is not a plain number"),
    ("6h", "is not a plain number"),
    ("2,5", "comma"),
    ("-1", ""),
    ("0", ""),
    ("", "is empty"),
)
DURATION: Bad = (
    ("١h", "is not a plain number"),
    ("nan", "is not a duration"),
    ("inf", "is not a duration"),
    ("1e3", "is not a duration"),
    ("-1h", "below zero"),
    ("95", "needs its unit"),
    ("5kg", "is not a duration"),
    ("1h90", "is not a duration"),
    ("0.5s", "not a whole number of seconds"),
    ("999999999999h", "longer than 31 days"),
    ("0min", "no time at all"),
    ("", "is empty"),
)
ENTRY: Bad = (
    ("٧", "is not the number of an entry"),
    ("0", "is not the number of an entry"),
    ("1_0", "is not the number of an entry"),
    ("1e3", "is not the number of an entry"),
    ("nan", "is not the number of an entry"),
    ("99999999999999999999", "is not the number of an entry"),
    ("-1", ""),
    ("999", "999"),
    ("", "is not the number of an entry"),
)
BY: Bad = (
    ("ZZ", "nobody here signs as ZZ"),
    ("kø", "nobody here signs as kø"),
    ("٢", "nobody here signs as"),
    ("", "is empty"),
)
UNIT: Bad = (("bay9", "bay9"), ("٧", ""), ("-1", ""), ("", ""))
USED: Bad = (("bay0", "bay0"), *UNIT)
FRESH: Bad = (("bay1", "is taken"), ("Bay 7", "lower-case"), ("٧", "lower-case"), ("", ""))
TEXT: Bad = (("", ""), ("   ", ""), ("x" * 501, "500"))
CHOICE: Bad = (("nonsense", "is not one of"), ("٧", "is not one of"), ("", "is not one of"))
EVERY: Bad = (
    ("P0M", ""),
    ("12M", ""),
    ("0 months", ""),
    ("two weeks", ""),
    ("٣", ""),
    ("1e3", ""),
    ("-P1M", ""),
    ("FREQ=DAYLY", ""),
)
OUTPUT: Bad = (("2 nan", "plain number"), ("٢ 2", "plain number"), ("2", "requires 2 arguments"))
STRETCH: Bad = (
    ("15min 1e3L/min 3", "is not a flow"),
    ("15 2L/min 3", "needs its unit"),
    ("15min 2L/min nan", "is not a plain number"),
    ("9h 2L/min 3", "longer than the case"),
    ("15min 2L/min", "requires 3 arguments"),
)
FULL: Bad = (("660L", "is not VOLUME@PRESSURE"), ("660psi@1900psi", "does not fit"), ("@", ""))
CHANGE: Bad = (
    ("mass=1e3", "is not a weight"),
    ("mass=٢٤", "is not a weight"),
    ("mass=1200", "needs its unit"),
    ("mass_g=nan", "is not a weight"),
    ("mass_g=-5", "must lie between"),
    ("expiry=2026-02-31", ""),
    ("machine=bay9", "there is no machine bay9"),
    ("machine", "has no = in it"),
    ("colour=white", "is nothing that this entry tells"),
    ("", "has no = in it"),
)
ITEMS: Bad = (("flowmeters=failed", "is no check"), ("flowmeters", "has no = in it"), ("", "no ="))
NO_FILE: Bad = (("nowhere", ""), (".", ""), ("", ""))
TAKEN_FILE: Bad = (("list.toml", "exists"), (".", ""), ("", "exists"))

NO_PLACE: Bad = tuple(
    (bad, "is no place to listen at")
    for bad in ("", "8080", "localhost", ":8080", "a:b", "127.0.0.1:65536", "127.0.0.1:٨")
)

KINDS: dict[Any, Bad] = {
    options.MASS: MASS,
    options.VOLUME: VOLUME,
    options.FLOW: FLOW,
    options.GAUGE: GAUGE,
    options.PIPELINE: (*GAUGE, ("125bar", "did you mean the cylinder")),
    options.COUNTRY: (("Atlantis", "is not known"), ("٢", "is not known"), ("", "")),
    options.ALTITUDE: (("١m", "is not a height"), ("1600", "needs its unit"), ("9000m", "between")),
    options.AIR: (("nankPa", "is not a pressure"), ("83", "needs its unit"), ("9kPa", "4")),
    options.PERCENT: PERCENT,
    options.TEMPERATURE: (
        ("٢C", "is not a plain number"),
        ("21", "is not a temperature"),
        ("nanC", "is not a plain number"),
        ("51C", "between"),
        ("-1C", "between"),
        ("", "is not a temperature"),
    ),
    options.NUMBER: NUMBER,
    options.DURATION: DURATION,
    options.ENTRY: ENTRY,
    options.CYLINDER_NUMBER: (
        *((bad, said.replace("an entry", "a cylinder")) for bad, said in ENTRY if bad != "999"),
        ("5", "5"),
        ("2", "cylinder 2 of bay1 is not told"),
    ),
    options.ENTRY_OR_LAST: (("first", "is not the number of an entry"), *ENTRY),
    **dict.fromkeys(("at", "began", "happened"), TIME),
    **dict.fromkeys(("machine", "unit", "tag", "fit"), USED),
    profile.YES_NO: (("maybe", "is not one of"), ("٧", "is not one of"), ("", "is not one of")),
    "vaporizer": UNIT,
    **dict.fromkeys(
        (
            "analyser",
            "because",
            "certificate",
            "detail",
            "done_by",
            "item",
            "location",
            "lot",
            "name",
        ),
        TEXT,
    ),
    **dict.fromkeys(
        ("old_granules", "reference", "remark", "serial", "source", "species", "text"), TEXT
    ),
    "as_of": AS_OF,
    "known_on": (("2026-03-09", "lies in the future"), ("2025-12-31", "nothing was"), *AS_OF),
    "by": BY,
    "closed": DAY,
    "ended": END,
    "every": EVERY,
    "expiry": DAY,
    "fields": CHANGE,
    "first_day": PAST_DAY,
    "full": FULL,
    "items": ITEMS,
    "initials": (("ko", "are taken"), ("kø", "capital"), ("٧", "capital"), ("", "is empty")),
    "last": PAST_DAY,
    "last_day": (("2026-03-01", "lies after --to"), *DAY),
    "limit": (("absorbent-hour", "there is no limit absorbent-hour"), ("٧", ""), ("", "")),
    "list_name": (("nonsense", "there is no list nonsense"), ("٧", ""), ("", "there is no list")),
    "output": OUTPUT,
    "scan": NO_FILE,
    "since": DAY,
    "until": DAY,
    "stretch": STRETCH,
    "timezone": tuple((bad, "must be a time zone") for bad in ("Mars/Olympus", "../../etc", "")),
}
"""The bad values of an option by its type, else by its name."""
OF_COMMAND: dict[tuple[str, str], Bad] = {
    ("backup", "target"): TAKEN_FILE,
    ("hand-over", "target"): (
        *TAKEN_FILE,
        ("https://centre.example/", "there is no token"),
        ("http:", "there is no token"),
    ),
    ("serve", "address"): (("http:", "there is no token"), ("", "is empty")),
    ("serve", "centre"): (("key", "go with --hand-over"), ("", "is empty")),
    ("serve", "token_file"): (
        ("nowhere", "cannot be read"),
        ("list.toml", "is not its owner's alone"),
    ),
    ("hand-over", "token_file"): (
        ("nowhere", "cannot be read"),
        (".", "is a directory"),
        ("list.toml", "is not its owner's alone"),
    ),
    ("hand-over", "receipt"): (*NO_FILE, ("list.toml", "not the public key of a centre")),
    ("hand-over", "centre"): (("key", "not the public key of a centre"), ("", "is empty")),
    ("check", "answers"): (("nowhere", "nowhere"), ("list.toml", "not JSON"), (".", "")),
    ("check", "item"): (("nonsense", "there is no item nonsense"), ("٧", "there is no item")),
    ("checklist load", "path"): (*NO_FILE, ("answers.json", "not TOML")),
    ("checklist show", "version"): (
        ("9", "version 9 of the list daily is not kept"),
        ("٧", "is not the number of a version"),
        ("0", "is not the number of a version"),
        ("1_0", "is not the number"),
        ("", "is not the"),
    ),
    ("checklist show", "name"): (("nonsense", "there is no list nonsense"), ("", "no list")),
    ("checkpoint", "target"): TAKEN_FILE,
    ("export csv", "target"): TAKEN_FILE,
    ("export calendar", "target"): TAKEN_FILE,
    ("export evidence", "folder"): (
        ("list.toml", "exists already"),
        (".", "exists"),
        ("", "exists"),
    ),
    ("export evidence", "machine"): UNIT,
    ("export label", "target"): TAKEN_FILE,
    ("export label", "units"): UNIT,
    ("export label", "address"): tuple(
        (bad, "is no address of a page")
        for bad in ("", "tablet", "ftp://a", "http://é/", "http://")
    ),
    ("export csv", "what"): (("nonsense", "there is no kind"), ("", "there is no kind")),
    **{(f"sheet {one}", "target"): TAKEN_FILE for one in ("week", "board", "history", "paper")},
    ("demo", "folder"): (("list.toml", "is a file"),),
    **{
        (f"import {kind}", name): bad
        for kind in SHEETS
        for name, bad in {
            "path": (*NO_FILE, ("list.toml", "row 1 of list.toml")),
            "columns": (("began", "has no = in it"), ("room=x", "room is no column of ours")),
            "every": (("began", "has no = in it"), ("room=x", "room is no column of ours")),
            "mapping": (("answers.json", "is no file of columns"), (".", "")),
        }.items()
    },
    ("machine add", "tag"): FRESH,
    ("machine show", "tag"): UNIT,
    ("machine profile", "cylinders"): (
        ("Q", "none of the sizes"),
        ("E Q", "none of the sizes"),
        ("1e3L", "none of the sizes"),
        ("٤L", "none of the sizes"),
        ("", "none of the sizes"),
    ),
    ("machine profile", "circuits"): (("nonsense", "is not one of"), ("", "is not one of")),
    ("machine profile", "vaporizer_places"): (
        ("7", "is not in the range"),
        ("-1", ""),
        ("٧x", ""),
        ("nan", ""),
        ("", ""),
    ),
    ("machine profile", "relief_valve"): (
        ("60", "needs its unit"),
        ("60psi", "does not fit"),
        ("nan", "is not a"),
        ("101cmH2O", "must lie between"),
        ("-1cmH2O", "below zero"),
        ("", "is empty"),
    ),
    ("machine profile", "compliance_ml_cmh2o"): (
        ("0", "must lie between"),
        ("nan", "is not a plain number"),
        ("100mL/0cmH2O", "no pressure"),
        ("100mL/33psi", "does not fit"),
        ("1e3", "is not a plain"),
        ("1001", "must lie between"),
        ("", "is empty"),
    ),
    ("vaporizer add", "tag"): FRESH,
    ("vaporizer show", "tag"): UNIT,
    ("vaporizer verify", "tag"): UNIT,
    ("case begin", "stretch"): tuple(bad for bad in STRETCH if bad[0] != "9h 2L/min 3"),
    ("correct", "stretch"): STRETCH[:-1],
    ("correct", "initials"): BY,
    **dict.fromkeys([("new", "since"), ("clinic change", "since")], FIRST_DAY),
    ("case list", "machine"): UNIT,
    ("history", "unit"): UNIT,
    ("sheet history", "unit"): UNIT,
    ("audit", "machine"): UNIT,
    ("schema", "name"): (("nonsense", "there is no schema nonsense"), ("", "there is no schema")),
    ("rule set", "value"): (
        *(bad for bad in NUMBER if bad[0] not in ("0", "6h")),
        ("6psi", "is not a plain number"),
    ),
    **dict.fromkeys([("serve", "listen"), ("demo", "listen")], NO_PLACE),
    ("serve", "names"): tuple((bad, "is no name") for bad in ("", "two words", "a/b", "é", "a:1")),
    ("look", "listen"): NO_PLACE,
    ("look", "machine"): UNIT,
    **{
        ("look", name): (*NO_FILE, ("answers.json", "are no certificate"))
        for name in ("certificate", "key")
    },
    ("serve", "certificate"): (*NO_FILE, ("answers.json", "are no certificate")),
    ("serve", "key"): (*NO_FILE, ("answers.json", "are no certificate")),
    ("staff pin", "initials"): (("ZZ", "there is no person ZZ"), ("٧", "no person"), ("", "empty")),
    ("staff add", "name"): (("", "1 to 100"), ("   ", "1 to 100"), ("x" * 101, "1 to 100")),
    ("vaporizer fit", "tag"): UNIT,
    ("vaporizer remove", "tag"): UNIT,
    ("restore", "source"): (("nowhere", "nowhere"), (".", "")),
    ("verify", "against"): (("nowhere", ""), ("٧", ""), (".", "")),
    ("oxygen left", "reserve"): tuple(bad for bad in GAUGE if bad[0] != "999999psi"),
}
"""The bad values of an option that mean something of its own to one command."""
IN_OWN_TEST = {
    (f"import {kind}", name)
    for kind in SHEETS
    for name in ("by", *(f"{what}_unit" for what in UNITS))
}
"""Told row by row, in a test further down."""
IN_OWN_TEST |= {
    ("hand-over", "trust"),
    ("serve", "trust"),
}  # It needs a token: see tests/centre/test_hand_over.py.

LINES: dict[str, dict[str, str]] = {
    "audit": {"first_day": "2026-03-02"},
    "board": {},
    "check": {"machine": "bay2", "list_name": "oxygen-failure-alarm", "answers": "answers.json"},
    "case begin": {"machine": "bay2"},
    "case end": {"machine": "bay1"},
    "case list": {},
    "case log": {"machine": "bay1", "began": "2026-03-03 08:10", "ran": "1h35"},
    "absorbent change": {"machine": "bay1"},
    "agent fill": {"vaporizer": "iso1", "level": "240ml"},
    "agent level": {"vaporizer": "iso1", "amount": "180ml"},
    "agent use": {"name": "isoflurane", "dial": "2", "flow": "1L/min", "lasted": "60min"},
    "oxygen change": {"machine": "bay1"},
    "oxygen left": {"size": "E", "gauge": "1500psi", "flow": "2L/min"},
    "oxygen read": {"machine": "bay1", "cylinder": "1500psi"},
    "charcoal change": {"machine": "bay1"},
    "charcoal weigh": {"machine": "bay1", "weight": "815g"},
    "ready": {"machine": "bay1"},
    "setup": {"weight": "12kg"},
    "due": {},
    "export calendar": {"target": "due.ics"},
    "export label": {"target": "labels.html"},
    "export csv": {"what": "due", "target": "due.csv"},
    "export evidence": {"folder": "pack", "first_day": "2026-03-02"},
    "forecast score": {},
    "forecast show": {},
    "fault report": {"unit": "bay1", "what": "leak"},
    "fault list": {},
    "fault close": {"entry": "14", "because": "new hose"},
    "return-to-service": {"unit": "iso1", "evidence": "11"},
    "service done": {"unit": "iso1", "item": "output verification", "outcome": "passed"},
    "service list": {},
    "service plan": {"unit": "bay1", "item": "service", "every": "P6M"},
    "history": {"unit": "bay1"},
    "correct": {"entry": "9", "because": "misread", "happened": "2026-03-02 07:20"},
    "note": {"text": "caster squeaks"},
    "reference show": {"entry": "10"},
    "reference erase": {"entry": "10", "because": "asked for"},
    "machine add": {"tag": "bay7"},
    "machine change": {"tag": "bay1", "because": "moved", "location": "room 2"},
    "machine list": {},
    "machine profile": {"tag": "bay1", "pipeline": "yes"},
    "machine retire": {"tag": "bay2", "because": "sold"},
    "machine show": {"tag": "bay1"},
    "vaporizer add": {"tag": "sevo1", "agent": "sevoflurane"},
    "vaporizer fit": {"tag": "iso1", "machine": "bay2"},
    "vaporizer list": {},
    "vaporizer remove": {"tag": "iso1"},
    "vaporizer show": {"tag": "iso1"},
    "vaporizer verify": {"tag": "iso1", "output": "2 2.1"},
    "checklist list": {},
    "checklist load": {"path": "list.toml"},
    "checklist show": {"name": "daily"},
    "rule list": {},
    "rule set": {"limit": "absorbent-hours", "value": "6", "because": "hospital policy"},
    "clinic change": {"because": "moved", "altitude_m": "1600m"},
    "clinic show": {},
    "staff add": {"initials": "RT", "name": "Night technician"},
    "staff list": {},
    "staff pin": {"initials": "KO"},
    "import cases": {"path": "cases.csv"},
    "import changes": {"path": "changes.csv"},
    "import services": {"path": "services.csv"},
    **{f"import {kind}": {"path": f"{kind}.csv"} for kind in list(SHEETS)[3:]},
    "look": {"lasting_s": "2h", "first_day": "2026-03-02", "listen": "127.0.0.1:0"},
    "new": {"name": "Alder Creek Animal Hospital", "timezone": "America/Denver"},
    "verify": {},
    "checkpoint": {},
    "backup": {"target": "copy.ledger"},
    "hand-over": {"target": "segment.jsonl"},
    "restore": {"source": "old.ledger"},
    "rebuild": {},
    "demo": {"folder": "."},
    "serve": {"listen": "127.0.0.1:0"},
    "schema": {},
    "sheet board": {"target": "board.html"},
    "sheet history": {"unit": "bay1", "target": "history.html"},
    "sheet paper": {"list_name": "daily", "target": "daily.html"},
    "sheet week": {"target": "week.html"},
}
"""For each command, values with which it works."""
OTHER_LINES: dict[tuple[str, str], dict[str, str]] = {
    ("case log", "ended"): {"machine": "bay1", "began": "2026-03-03 08:10"},
    ("due", "closed"): {"week": ""},
    ("export csv", "first_day"): {"what": "audit", "target": "audit.csv"},
    ("export csv", "last_day"): {"what": "audit", "target": "audit.csv", "first_day": "2026-03-02"},
    ("correct", "ended"): {"entry": "10", "because": "misread"},
    ("correct", "fields"): {"entry": "9", "because": "misread"},
    ("correct", "items"): {"entry": "9", "because": "misread"},
    ("correct", "ran_s"): {"entry": "10", "because": "misread"},
    ("correct", "flow"): {"entry": "10", "because": "misread"},
    ("correct", "dial"): {"entry": "10", "because": "misread"},
    ("correct", "stretch"): {"entry": "10", "because": "misread"},
    ("agent level", "level"): {"vaporizer": "iso1"},
    **{
        ("ready", name): {"machine": "bay1", "weight": "12kg"}
        for name in ("circuit", "dial", "flow")
    },
    ("hand-over", "receipt"): {"centre": "key"},
    ("hand-over", "token_file"): {"target": "https://127.0.0.1:1/"},
    ("hand-over", "centre"): {"receipt": "list.toml"},
    ("oxygen left", "factor"): {"gauge": "1500psi", "flow": "2L/min"},
    ("oxygen left", "machine"): {"flow": "2L/min"},
    ("oxygen left", "full"): {"gauge": "1500psi", "flow": "2L/min"},
    ("look", "certificate"): {**LINES["look"], "key": "list.toml"},
    ("look", "key"): {**LINES["look"], "certificate": "list.toml"},
    ("serve", "token_file"): {**LINES["serve"], "address": "https://127.0.0.1:1/"},
    ("serve", "certificate"): {**LINES["serve"], "key": "list.toml"},
    ("serve", "key"): {**LINES["serve"], "certificate": "list.toml"},
    ("restore", "because"): {"source": "old.ledger", "go": ""},
    ("restore", "by"): {"source": "old.ledger", "go": "", "because": "disk failed"},
    ("service done", "tolerance"): {**LINES["service done"], "output": "2 2.1"},
}
"""The same where an option stands against another one of the command's line."""
UNSIGNED = {"machine add", "vaporizer add", "service plan", "staff add"}
"""Entries that set a ledger up may go unsigned."""

LIST = (
    'name = "{0}"\nversion = 1\ntitle = "Our own list"\n[[group]]\ntitle = "All"\n'
    '[[group.item]]\nkey = "{1}"\ntitle = "Look"\nstops = true\nhow = "Look at it."\n'
    'why = "A hole lets air in."\nsource = "our own"\nconfidence = "set by the clinic"\n'
)
FILES = {
    "list.toml": LIST.format("own", "hoses") + 'kind = "tick"\n',
    "measured.toml": (
        LIST.format("measured", "cylinder")
        + 'kind = "number"\nunit = "psi"\nat_least = "cylinder-low"\n'
    ),
    "answers.json": (
        '{"oxygen-alarm-sounds": "passed", "other-gases-stop": "not fitted", '
        '"cylinder-side-leak": "not fitted", '
        '"oxygen-back": "passed"}'
    ),
    "cases.csv": "machine,began,ran\nbay2,2026-03-04 08:10,1h\n",
    "changes.csv": "machine,at,what\nbay2,2026-03-04,absorbent\n",
    "services.csv": "unit,item,at,outcome\niso1,service,2026-03-04,passed\n",
    "checks.csv": "machine,at,result\nbay2,2026-03-04,passed\n",
    "fills.csv": "vaporizer,at,added\niso1,2026-03-04,10ml\n",
    "levels.csv": "vaporizer,at,level\niso1,2026-03-04,100ml\n",
    "oxygen.csv": "machine,at,cylinder\nbay2,2026-03-04,1500psi\n",
    "faults.csv": "unit,at,what\nbay2,2026-03-04,leak\n",
    "returns.csv": "unit,at\niso1,2026-03-04\n",
    "fittings.csv": "vaporizer,at,machine\niso1,2026-03-04,bay2\n",
}


@pytest.fixture(scope="module")
def stocked(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger in which every line of ``LINES`` works: two machines, a retired one, a running
    case."""
    path = tmp_path_factory.mktemp("stocked") / "clinic.ledger"
    path.write_bytes(founded.read_bytes())
    lines = (
        "machine add bay1 --absorbent 1200g --scavenging charcoal",  # 3
        "vaporizer add iso1 --agent isoflurane --fit bay1",  # 4 and 5
        "machine add bay2",
        "machine add bay0",
        "machine retire bay0 --because sold --at 2026-03-01T08:00",
        "absorbent change bay1 --at 2026-03-02T07:30",  # 9
        "case log bay1 --began 2026-03-02T08:10 --ran 1h35 --reference A-17",  # 10
        "service done iso1 'output verification' --outcome passed --at 2026-03-03T08:00",  # 11
        "case begin bay1 --at 2026-03-06T15:00",  # 12
        f"checklist load {path.with_name('measured.toml')}",  # 13
        "fault report bay1 leak --at 2026-03-06T15:30",  # 14
    )
    path.with_name("measured.toml").write_text(FILES["measured.toml"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Desk, "now", lambda _self: NOW)
        patch.setenv("LOGBOOK_BY", "KO")
        for line in lines:
            with CliRunner().isolation() as (_, err, _):
                code = run(logbook, ["--ledger", str(path), *shlex.split(line)])
                assert code in (0, 3), (line, err.getvalue())
    return path


@pytest.fixture
def ledger(stocked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the stocked ledger, in a folder with the files that some lines name."""
    monkeypatch.chdir(tmp_path)
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "old.ledger").write_bytes(stocked.read_bytes())
    path = tmp_path / "clinic.ledger"
    path.write_bytes(stocked.read_bytes())
    return path


@pytest.fixture(autouse=True)
def nobody_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page answers until somebody stops it; here it ends at once."""
    monkeypatch.setattr(server.Server, "serve", lambda _self: None)


def argv(words: str, given: dict[str, str]) -> list[str]:
    """The command line that gives these values to a command."""
    line = words.split()
    for param in leaves()[words].params:
        if param.name in given:
            value = given[param.name]
            parts = value.split(" ") if param.nargs > 1 else [value]
            parts = [] if getattr(param, "is_flag", False) else parts
            line += parts if isinstance(param, click.Argument) else [param.opts[0], *parts]
    return line


def values_of(words: str, param: click.Parameter) -> Bad:
    """The values that a command must refuse for one of its parameters."""
    assert param.name is not None
    if (words, param.name) in OF_COMMAND:
        return OF_COMMAND[words, param.name]
    if isinstance(param.type, click.Choice):
        return CHOICE
    return KINDS[param.type] if param.type in KINDS else KINDS[param.name]


def told_params(words: str) -> Iterator[click.Parameter]:
    """The parameters of a command that take a value."""
    for param in leaves()[words].params:
        is_flag = getattr(param, "is_flag", False)
        if not is_flag and (words, param.name) not in IN_OWN_TEST:
            yield param


def refused(ran: Ran, words: str = "") -> None:
    """One sentence on stderr, exit code 2, nothing else."""
    assert (ran.code, ran.out) == (2, ""), ran
    assert ran.err.startswith("Not done, nothing saved: "), ran.err
    assert ran.err.endswith((".\n", "?\n"))
    assert ran.err.count("\n") == 1
    assert ran.err[:-1].isprintable()
    for never in ("Usage:", "Traceback", "Error:", "pydantic", "sqlite"):
        assert never not in ran.err
    assert words in ran.err


def untouched(ledger: Path, stocked: Path) -> None:
    """The ledger is as it was, byte for byte, and nothing lies beside it."""
    assert ledger.read_bytes() == stocked.read_bytes()
    beside = {path.name for path in ledger.parent.iterdir()} - FILES.keys()
    assert {name for name in beside if "ledger" in name} == {"clinic.ledger", "old.ledger"}


@pytest.mark.parametrize("words", sorted(LINES))
def test_an_empty_name_of_the_ledger_is_refused_by_every_command(
    run_logbook: Command, ledger: Path, stocked: Path, words: str
) -> None:
    refused(run_logbook("--ledger", "", *argv(words, LINES[words])), "--ledger is empty")
    untouched(ledger, stocked)


def test_every_command_stands_in_the_table() -> None:
    assert without_store().keys() == LINES.keys()


def test_every_option_that_takes_a_value_has_bad_values() -> None:
    for words in without_store():
        for param in told_params(words):
            assert values_of(words, param), (words, param.name)


# The demo has tests of its own, and takes seconds.
@pytest.mark.parametrize("words", sorted(LINES.keys() - {"demo"}))
def test_the_lines_of_the_table_work_as_they_stand(
    run_logbook: Command, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if words == "new":
        monkeypatch.setenv("LOGBOOK_LEDGER", "another.ledger")
    ran = run_logbook(*argv(words, LINES[words]))
    assert ran.code in (0, 3), ran.err
    assert ran.out


@pytest.mark.parametrize(
    ("words", "name"), [(words, p.name) for words in LINES for p in told_params(words)]
)
def test_a_bad_value_is_refused_in_one_sentence_and_nothing_is_saved(
    run_logbook: Command, ledger: Path, stocked: Path, words: str, name: str, monkeypatch: Any
) -> None:
    if words == "new":
        monkeypatch.setenv("LOGBOOK_LEDGER", "another.book")
    (param,) = [one for one in told_params(words) if one.name == name]
    for value, sentence in values_of(words, param):
        given = OTHER_LINES.get((words, name), LINES[words]) | {name: value}
        ran = run_logbook(*argv(words, given))
        # A value that begins with a hyphen reads as an option where no option stands before it.
        hyphen = isinstance(param, click.Argument) and value.startswith("-")
        refused(ran, "there is no option" if hyphen else sentence)
        untouched(ledger, stocked)
    assert not Path("another.book").exists()


@pytest.mark.parametrize("words", LINES)
def test_a_value_too_many_or_an_unknown_option_is_refused(
    run_logbook: Command, ledger: Path, stocked: Path, words: str
) -> None:
    line = argv(words, LINES[words])
    surplus = {"demo": [], "agent fill": ["9ml"]}.get(words, ["surplus"])
    takes_many = any(param.nargs < 0 for param in leaves()[words].params)
    said = "there is no unit surplus" if takes_many else "unexpected extra argument"
    refused(run_logbook(*line, *surplus, "more"), said)
    refused(run_logbook(*line, "--nonsense"), "there is no option --nonsense")
    untouched(ledger, stocked)


@pytest.mark.parametrize("words", [words for words in LINES if LINES[words]])
def test_a_missing_value_is_named(
    run_logbook: Command, ledger: Path, stocked: Path, words: str
) -> None:
    for param in leaves()[words].params:
        if param.required:
            without = {k: v for k, v in LINES[words].items() if k != param.name}
            name = (
                param.opts[0]
                if isinstance(param, click.Option)
                else param.make_metavar(click.Context(leaves()[words]))
            )
            ran = run_logbook(*argv(words, without))
            refused(ran, "Missing" if isinstance(param, click.Argument) else name)
    untouched(ledger, stocked)


def signed_commands() -> list[str]:
    """The commands whose entries need a signature."""
    return [
        words
        for words, command in leaves().items()
        if any(param.name == "by" for param in command.params) and words not in UNSIGNED
    ]


@pytest.mark.parametrize("words", [w for w in signed_commands() if not w.startswith("import")])
def test_without_a_terminal_missing_initials_name_their_option(
    run_logbook: Command, ledger: Path, stocked: Path, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("LOGBOOK_BY")
    refused(run_logbook(*argv(words, OTHER_LINES.get((words, "by"), LINES[words]))), "give --by")
    untouched(ledger, stocked)


def test_a_unit_that_fits_no_column_is_told_row_by_row(run_logbook: Command) -> None:
    Path("cases.csv").write_text("machine,began,ran,weight\nbay2,2026-03-04 08:10,1,24\n")
    ran = run_logbook("import", "cases", "cases.csv", "--weight-unit", "psi", "--time-unit", "kg")
    assert (ran.code, ran.out) == (2, "")
    assert "the unit psi does not fit" in ran.err
    assert "row 2: ran 1kg" in ran.err


@pytest.mark.parametrize("words", [f"import {kind}" for kind in SHEETS])
def test_rows_that_nobody_signs_are_refused(
    run_logbook: Command, ledger: Path, stocked: Path, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    unknown = run_logbook(*argv(words, LINES[words]), "--by", "ZZ")
    assert (unknown.code, unknown.out) == (2, "")
    assert "row 2: nobody here signs as ZZ" in unknown.err
    monkeypatch.delenv("LOGBOOK_BY")
    nobody = run_logbook(*argv(words, LINES[words]))
    assert (nobody.code, nobody.out) == (2, "")
    assert "give --by" in nobody.err
    untouched(ledger, stocked)


def test_a_check_without_a_terminal_asks_for_a_file_of_answers(
    run_logbook: Command, ledger: Path, stocked: Path
) -> None:
    for name in builtin_names():
        refused(run_logbook("check", "bay2", "--list", name), "give --answers FILE")
    untouched(ledger, stocked)


ALL = (
    '{"oxygen-alarm-sounds": "passed", "other-gases-stop": "passed", '
    '"cylinder-side-leak": "20 psi", "oxygen-back": %s}'
)
ANSWERS: dict[str, str] = {
    "[]": "not one object",
    '"passed"': "not one object",
    "{": "not JSON",
    "[" * 100_000: "not JSON",
    '{"oxygen-back": "passed", "oxygen-back": "failed"}': "name oxygen-back twice",
    '{"oxygen-back": {"state": "passed", "state": "failed"}}': "name state twice",
    '{"nonsense": "passed"}': "has no item nonsense",
    ALL % '"all passed"': "say one of",
    '{"oxygen-back": true}': "is answered with True",
    '{"oxygen-back": null}': "is answered with None",
    '{"oxygen-back": ["passed"]}': "is answered with",
    '{"oxygen-back": {"verdict": "passed"}}': "has no verdict; known are",
    '{"oxygen-back": {"value": NaN}}': "has a value that is no text",
    '{"oxygen-back": {"value": "٢٤"}}': "",
    ALL % '{"state": "not done"}': "needs a reason",
    ALL % '{"state": "not done", "reason": " "}': "needs a reason",
    ALL % '{"state": "passed", "held_s": "1e3"}': "is not a duration",
    ALL % '{"state": "passed", "held_s": "12"}': "nothing to measure",
    ALL % '"not fitted"': "is part of every machine",
    '{"oxygen-back": "passed"}': "no answer",
    "{}": "no answer",
}


@pytest.mark.parametrize(("text", "sentence"), ANSWERS.items(), ids=range(len(ANSWERS)))
def test_answers_that_make_no_sense_are_refused(
    run_logbook: Command, ledger: Path, stocked: Path, text: str, sentence: str
) -> None:
    Path("answers.json").write_text(text, encoding="utf-8")
    ran = run_logbook(*argv("check", LINES["check"]))
    refused(ran, sentence)
    untouched(ledger, stocked)


def test_all_that_is_wrong_with_answers_is_told_at_once(
    run_logbook: Command, tmp_path: Path
) -> None:
    path = tmp_path / "faulty.json"
    path.write_text(
        '{"nonsense": "passed", "oxygen-back": true, "other-gases-stop": {"state": "not done"}}'
    )
    ran = run_logbook("check", "bay1", "--list", "oxygen-failure-alarm", "--answers", str(path))
    refused(ran, "the answers have 4 faults: (1) the item oxygen-back is answered with True; ")
    for one in ("has no item nonsense", "needs a reason", "oxygen-alarm-sounds"):
        assert one in ran.err


@pytest.mark.parametrize("value", ["١٢٠ psi", "nan", "1e3", "-5", "120 kg", "", "120,5"])
def test_a_measured_answer_that_is_no_reading_is_refused(
    run_logbook: Command, ledger: Path, stocked: Path, value: str
) -> None:
    Path("answers.json").write_text(f'{{"cylinder": {{"value": "{value}"}}}}')
    refused(run_logbook("check", "bay2", "--list", "measured", "--answers", "answers.json"))
    untouched(ledger, stocked)


def test_a_check_is_refused_for_its_time_and_signature_before_its_answers_are_read(
    run_logbook: Command, ledger: Path, stocked: Path
) -> None:
    # Nobody walks a list of 24 items to hear at its end that the time makes no sense.
    Path("answers.json").write_text("{}")
    line = argv("check", LINES["check"])
    refused(run_logbook(*line, "--at", "2026-03-07 08:00"), "lies in the future")
    refused(run_logbook(*line, "--by", "ZZ"), "nobody here signs as ZZ")
    refused(run_logbook("check", "bay0", "--answers", "answers.json"), "was retired")
    untouched(ledger, stocked)


NEED_NO_LEDGER = {"agent use", "oxygen left", "schema", "setup", "new", "demo", "restore"}


@pytest.mark.parametrize("words", sorted(LINES.keys() - NEED_NO_LEDGER))
def test_a_path_that_is_no_ledger_is_refused(
    run_logbook: Command, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "other.txt"
    monkeypatch.setenv("LOGBOOK_LEDGER", str(other))
    given = LINES[words]
    refused(run_logbook(*argv(words, given)), "there is no ledger")
    other.write_text("a shopping list\n" * 400)
    spoilt = run_logbook(*argv(words, given))
    assert (spoilt.code, spoilt.err.count("\n"), spoilt.out) == (4, 1, ""), spoilt
    assert "is not a ledger" in spoilt.err
    assert other.read_text() == "a shopping list\n" * 400


@pytest.mark.skipif(os.name == "nt", reason="a name of undecodable bytes exists only on POSIX")
def test_bytes_that_are_no_text_are_refused(
    run_logbook: Command, ledger: Path, stocked: Path
) -> None:
    refused(run_logbook("note", "caf\udce9"))
    refused(run_logbook("staff", "add", "RT", "caf\udce9"))
    untouched(ledger, stocked)
