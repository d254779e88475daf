"""What an inspector asks, answered from an evidence pack with Python's standard library alone.

``python -I -S answer_from_pack.py PACK`` prints as JSON which machines ran past their absorbent's
limit, in which cases, and who changed it when. Nothing of the program is imported here.
"""

import csv
import json
import sys
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo


def table(pack, name):
    """The rows of a table, the columns found as ``datapackage.json`` names them."""
    told = json.loads((pack / "datapackage.json").read_text("utf-8"))
    [one] = [one for one in told["resources"] if one["name"] == name]
    with (pack / one["path"]).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert all(list(row) == [field["name"] for field in one["schema"]["fields"]] for row in rows)
    return rows


def zone_of(pack):
    """The clinic's time zone, by the entry that founded the logbook."""
    with (pack / "entries.jsonl").open(encoding="ascii") as file:
        entries = [json.loads(line) for line in file]
    [told] = [json.loads(one["body"]) for one in entries if one["kind"] == "clinic"]
    return ZoneInfo(told["timezone"])


def past_limit(pack):
    """For each machine the cases that ran past hours or days, and the change that came after."""
    zone, found = zone_of(pack), []
    limits = {(one["limit"], one["machine"]): float(one["value"]) for one in table(pack, "limits")}
    changes = sorted(table(pack, "absorbent-change"), key=lambda one: one["happened_at"])
    cases = sorted(table(pack, "cases"), key=lambda one: one["began_at"])
    for old in changes:
        tag, since = old["machine"], datetime.fromisoformat(old["happened_at"])
        after = [one for one in changes if one["machine"] == tag]
        after = [one for one in after if one["happened_at"] > old["happened_at"]][:1]
        until = after[0]["happened_at"] if after else "9999"
        most_h, most_d = (
            limits.get((name, tag), limits[name, ""])
            for name in ("absorbent-hours", "absorbent-days")
        )
        used, past = timedelta(), []
        for case in cases:
            began = case["began_at"]
            loads = case["machine"] == tag and case["circuit"] != "non-rebreathing"
            if loads and old["happened_at"] <= began < until:
                used += timedelta(seconds=int(case["ran_s"]))
                begun = datetime.fromisoformat(began).astimezone(zone).date()
                days = (begun - since.astimezone(zone).date()).days
                if used > timedelta(hours=most_h) or days > most_d:
                    past.append([begun.isoformat(), int(case["entry"]), case["by"]])
        if past:
            changed = [[after[0]["happened_at"], int(after[0]["entry"]), after[0]["by"]]]
            found.append({"machine": tag, "cases": past, "changed": changed if after else []})
    return found


if __name__ == "__main__":
    print(json.dumps(past_limit(Path(sys.argv[1]))))
