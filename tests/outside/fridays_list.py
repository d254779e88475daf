"""Friday's list counted a second time, straight from the sample files, by the standard library.

Nothing of the program is imported here. The limits are written out as the trade knows them; where
the clinic's file sets another one, that one counts.
"""

import csv
import json
import tomllib
from calendar import monthrange
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

LIMITS = {"absorbent-hours": 8, "absorbent-days": 14, "charcoal-hours": 12, "charcoal-gain": 50,
          "charcoal-agent": 50}  # fmt: skip
SOON_DAYS = 7
SOON_SHARE = Fraction(75, 100)
EXHAUSTED = {("absorbent-colour", "over half changed"), ("absorbent-feel", "hard")}
ALARM = "oxygen-failure-alarm"


class Key(NamedTuple):
    """What a line of the list is about."""

    machine: str | None
    unit: str
    item: str
    clock: str


class Line(NamedTuple):
    """What the line says; hours are rounded to a hundredth."""

    used: Fraction | None
    limit: Fraction | None
    standing: str
    due_on: date | None


class Case(NamedTuple):
    """A case that counts, after its corrections."""

    machine: str
    began: datetime
    ended: datetime
    circuit: str
    vaporizer: str
    weight_kg: float | None
    liquid_ml: float = 0.0


NOTHING = Line(None, None, "no record", None)


def hours_since(cases: list[Case], since: datetime) -> Fraction:
    """The hours that cases ran after an instant."""
    seconds = sum(
        max(int((case.ended - max(case.began, since)).total_seconds()), 0) for case in cases
    )
    return Fraction(seconds, 3600)


def by_amount(used: Fraction, limit: Fraction) -> Line:
    """A line by an amount, judged before it is rounded."""
    if used == limit:
        standing = "due"
    elif used > limit:
        standing = "overdue"
    else:
        standing = "due soon" if used / limit >= SOON_SHARE else "ok"
    return Line(Fraction(round(used * 100), 100), limit, standing, None)


def months_later(day: date, months: int) -> date:
    """So many calendar months later, or that month's last day."""
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


class Clinic:
    """The files of the sample clinic, read once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.told = tomllib.loads((folder / "clinic.toml").read_text("utf-8"))
        self.zone = ZoneInfo(self.told["clinic"]["timezone"])
        self.friday: date = self.told["clinic"]["until"]
        lines = (folder / "events.jsonl").read_text("utf-8").splitlines()
        self.events: list[dict[str, Any]] = [json.loads(line) for line in lines]
        self.changes = self._csv(folder / "changes.csv")
        self.services = [
            (self.instant(row["at"]), row) for row in self._csv(folder / "services.csv")
        ]
        self.services += [(self.instant(one["at"]), one) for one in self._kind("service")]
        self.services.sort(key=lambda pair: pair[0])
        self.cases = self._cases(self._csv(folder / "cases.csv"))

    @staticmethod
    def _csv(path: Path) -> list[dict[str, str]]:
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    def _kind(self, *kinds: str) -> list[dict[str, Any]]:
        return [one for one in self.events if one["kind"] in kinds]

    def instant(self, text: str) -> datetime:
        """A local wall time, or the beginning of a day, as an instant."""
        return datetime.fromisoformat(text).replace(tzinfo=self.zone).astimezone(UTC)

    def day(self, instant: datetime) -> date:
        """The clinic's calendar day of an instant."""
        return instant.astimezone(self.zone).date()

    def _cases(self, rows: list[dict[str, str]]) -> list[Case]:
        """Cases as the paper tells them, then the corrections, then the live ones."""
        cases = {}
        for row in rows:
            began = self.instant(row["began"])
            if row["ended"]:
                ended = self.instant(f"{row['began'][:10]} {row['ended']}")
            else:
                ended = began + minutes(row["ran"])
            cases[row["reference"]] = Case(
                row["machine"],
                began,
                ended,
                row["circuit"],
                row["vaporizer"],
                kilos(row["weight"]),
                liquid_ml(row["flow"], row["dial"], ended - began),
            )
        for fix in self._kind("correction"):
            case = cases.pop(fix["corrects"])
            if not fix.get("withdrawn"):
                cases[fix["corrects"]] = case._replace(ended=case.began + minutes(fix["ran"]))
        for one in self._kind("case_begin"):
            [end] = [e["at"] for e in self._kind("case_end") if e["case"] == one["ref"]]
            began, ended = self.instant(one["at"]), self.instant(end)
            weight_kg = int(one["weight_g"]) / 1000
            case = Case(one["machine"], began, ended, one["circuit"], "", weight_kg)
            cases[one["ref"]] = case
        return list(cases.values())

    def limit(self, name: str, machine: str) -> Fraction:
        """The clinic's own limit for a machine, else the usual one."""
        own = [
            rule["value"]
            for rule in self.told["rule_change"]
            if rule["limit"] == name and rule["machine"] == machine
        ]
        return Fraction(own[-1] if own else LIMITS[name])

    def stays(self, vaporizer: dict[str, str]) -> list[tuple[datetime, str | None]]:
        """Where a vaporizer stood, and from when on."""
        begin = datetime.min.replace(tzinfo=UTC)
        moves = [(begin, vaporizer.get("fitted_to"))]
        for one in self._kind("vaporizer_fitting", "vaporizer_removal"):
            if one["vaporizer"] == vaporizer["vaporizer"]:
                moves.append((self.instant(one["at"]), one.get("machine")))
        return moves

    def by_date(self, last: date, due_on: date) -> Line:
        """A line by the calendar, in days."""
        left = (due_on - self.friday).days
        standing = "overdue" if left < 0 else "due" if left == 0 else "ok"
        if 0 < left <= SOON_DAYS:
            standing = "due soon"
        used, limit = (self.friday - last).days, (due_on - last).days
        return Line(Fraction(used), Fraction(limit), standing, due_on)


def minutes(text: str) -> timedelta:
    """A length such as ``1h35`` or ``50min``."""
    hours, _, rest = text.rpartition("h")
    return timedelta(hours=int(hours or 0), minutes=int(rest.removesuffix("min") or 0))


def liquid_ml(flow: str, dial: str, lasted: timedelta) -> float:
    """The isoflurane that one setting takes, of which 1 mL makes 195 mL of vapour (Biro 2014); the
    vapour comes on top of the fresh gas. Nothing where flow or dial was not told."""
    if not flow or not dial:
        return 0.0
    share = float(dial) / 100
    ml_min = float(flow.removesuffix("L/min")) * 1000 * share / (1 - share)
    return ml_min * lasted.total_seconds() / 60 / 195


def kilos(text: str) -> float | None:
    """A weight such as ``4.5kg``, ``900g`` or ``53lb``; nothing where none was told."""
    for unit, in_kg in (("kg", 1), ("lb", 0.45359237), ("g", 0.001)):
        if text.endswith(unit):
            return float(text.removesuffix(unit)) * in_kg
    return None


def carbon_dioxide(cases: list[Case], since: datetime, charge_g: float) -> Line:
    """What the patients breathed out, against what the granules take at least, in litres.

    516 µmol/kg^0.75/min (Pouteau 2002, fed) and 19 % of the charge's weight (USP 35, soda lime); a
    mole of carbon dioxide weighs 44.01 g and fills 24.055 L at 20 °C.
    """
    moles = sum(
        516e-6 * case.weight_kg**0.75 * float(hours_since([case], since)) * 60
        for case in cases
        if case.weight_kg is not None
    )
    most_moles = charge_g * 0.19 / 44.01
    used, limit = (Fraction(round(one * 24.055 * 10), 10) for one in (moles, most_moles))
    return Line(used, limit, by_amount(Fraction(moles), Fraction(most_moles)).standing, None)


def friday_list(folder: Path) -> dict[Key, Line]:
    """Every line of the list, as of the end of the sample's last Friday."""
    clinic = Clinic(folder)
    lines: dict[Key, Line] = {}
    for machine in clinic.told["machine"]:
        tag = machine["machine"]
        lines |= {Key(tag, tag, *name): line for name, line in supplies(clinic, machine)}
        if machine["oxygen_alarm"] or machine["second_gas"]:
            lines[Key(tag, tag, f"{ALARM} check", "days since the check")] = alarm(clinic, tag)
    where = {one["machine"]: one["machine"] for one in clinic.told["machine"]}
    where |= {one["vaporizer"]: clinic.stays(one)[-1][1] for one in clinic.told["vaporizer"]}
    for unit, place in where.items():
        lines |= {Key(place, unit, *name): line for name, line in services(clinic, unit)}
    return lines


Named = tuple[tuple[str, str], Line]


def supplies(clinic: Clinic, machine: dict[str, str]) -> Iterator[Named]:
    """The clocks of absorbent and charcoal on one machine."""
    tag = machine["machine"]
    cases = [case for case in clinic.cases if case.machine == tag]
    rebreathing = [case for case in cases if case.circuit != "non-rebreathing"]
    changed = last_change(clinic, tag, "absorbent")
    used = hours_since(rebreathing, changed)
    yield ("absorbent", "hours in use"), by_amount(used, clinic.limit("absorbent-hours", tag))
    day = clinic.day(changed)
    due_on = day + timedelta(days=int(clinic.limit("absorbent-days", tag)))
    yield ("absorbent", "days since the change"), clinic.by_date(day, due_on)
    charge_g = float(change_mass_g(clinic, tag, "absorbent", changed))
    yield ("absorbent", "carbon dioxide"), carbon_dioxide(rebreathing, changed, charge_g)
    for at, check in checks(clinic, tag):
        if at > changed and EXHAUSTED & set(only_words(check["answers"])):
            seen = clinic.day(at)
            standing = "due" if seen == clinic.friday else "overdue"
            yield ("absorbent", "seen at a check"), Line(None, None, standing, seen)
            break
    if machine["scavenging"] == "charcoal":
        yield from charcoal(clinic, tag, cases)


def charcoal(clinic: Clinic, tag: str, cases: list[Case]) -> Iterator[Named]:
    """Hours in use and the most that the canister weighed more than when it was fresh."""
    changed = last_change(clinic, tag, "charcoal")
    used = hours_since(cases, changed)
    yield ("charcoal", "hours in use"), by_amount(used, clinic.limit("charcoal-hours", tag))
    fresh_g = change_mass_g(clinic, tag, "charcoal", changed)
    weighed = [
        (clinic.instant(one["at"]), Fraction(one["weight_g"]))
        for one in clinic.events
        if one["kind"] == "charcoal_weight" and clinic.instant(one["at"]) > changed
    ]
    # What a check weighs is a weighing, too.
    weighed += [
        (
            clinic.instant(one["at"]),
            Fraction(one["answers"]["charcoal-weight"].removesuffix(" g")),
        )
        for one in clinic.events
        if (one["kind"], one.get("machine")) == ("check", tag)
        and one["answers"].get("charcoal-weight", "").endswith(" g")
        and clinic.instant(one["at"]) > changed
    ]
    gained_g = max(weight for _, weight in weighed) - fresh_g
    gained = by_amount(gained_g, clinic.limit("charcoal-gain", tag))
    yield ("charcoal", "weight gained"), gained
    # All isoflurane since then, 184.5 g a mole, of which 24.055 L are vapour at 20 °C.
    last = max(at for at, _ in weighed)
    sent_g = sum(case.liquid_ml for case in cases if case.ended > last) * 195 / 24_055 * 184.5
    held_g = Fraction(round((float(gained_g) + sent_g) * 10), 10)
    held = by_amount(held_g, clinic.limit("charcoal-agent", tag))
    if sent_g:
        yield ("charcoal", "agent it may hold"), held


def last_change(clinic: Clinic, tag: str, what: str) -> datetime:
    """When something was changed last on a machine."""
    rows = [row for row in clinic.changes if (row["machine"], row["what"]) == (tag, what)]
    return max(clinic.instant(row["at"]) for row in rows)


def change_mass_g(clinic: Clinic, tag: str, what: str, changed: datetime) -> Fraction:
    """What the fresh absorbent or canister weighed, in grams."""
    [mass] = [
        row["mass"]
        for row in clinic.changes
        if (row["machine"], row["what"]) == (tag, what) and clinic.instant(row["at"]) == changed
    ]
    return Fraction(mass.removesuffix("g"))


def checks(clinic: Clinic, tag: str) -> list[tuple[datetime, dict[str, Any]]]:
    """The checks of a machine in order of time."""
    found = [one for one in clinic.events if one["kind"] == "check" and one["machine"] == tag]
    return sorted(((clinic.instant(one["at"]), one) for one in found), key=lambda pair: pair[0])


def only_words(answers: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Answers that are a word, without those that come with a reason."""
    return ((item, said) for item, said in answers.items() if isinstance(said, str))


def alarm(clinic: Clinic, tag: str) -> Line:
    """The weekly test of the oxygen alarm; one that failed was done all the same."""
    done = [at for at, check in checks(clinic, tag) if check["list"] == ALARM]
    if not done:
        return NOTHING
    last = clinic.day(done[-1])
    return clinic.by_date(last, last + timedelta(days=7))


def services(clinic: Clinic, unit: str) -> Iterator[Named]:
    """The planned services of a unit, or the one that it should have a plan for."""
    plans = [plan for plan in clinic.told["service_plan"] if plan["unit"] == unit]
    if not plans:
        machines = {one["machine"] for one in clinic.told["machine"]}
        yield ("service" if unit in machines else "output verification", "calendar"), NOTHING
    for plan in plans:
        for clock, line in planned(clinic, plan):
            yield (plan["item"], clock), line


def planned(clinic: Clinic, plan: dict[str, Any]) -> Iterator[tuple[str, Line]]:
    """One plan by the calendar and by run hours; a service not verified changes nothing."""
    done = [
        (at, row["outcome"])
        for at, row in clinic.services
        if (row["unit"], row["item"]) == (plan["unit"], plan["item"])
        and row["outcome"] != "not verified"
    ]
    if done and done[-1][1] == "failed":
        yield "calendar", Line(None, None, "due", clinic.day(done[-1][0]))
        return
    if not done and "last" not in plan:
        yield "calendar", NOTHING
        return
    since = done[-1][0] if done else clinic.instant(plan["last"].isoformat())
    if "every" in plan:
        last = clinic.day(since)
        months = int(plan["every"].removeprefix("P").removesuffix("M"))
        yield "calendar", clinic.by_date(last, months_later(last, months))
    if "run_hours" in plan:
        used = hours_since(cases_of(clinic, plan["unit"]), since)
        yield "hours in use", by_amount(used, Fraction(plan["run_hours"]))


def cases_of(clinic: Clinic, unit: str) -> list[Case]:
    """The cases of a machine, or those that a vaporizer ran in, wherever it stood."""
    for vaporizer in clinic.told["vaporizer"]:
        if vaporizer["vaporizer"] == unit:
            stays = clinic.stays(vaporizer)
            return [case for case in clinic.cases if ran_in(case, unit, stays)]
    return [case for case in clinic.cases if case.machine == unit]


def ran_in(case: Case, unit: str, stays: list[tuple[datetime, str | None]]) -> bool:
    """Whether a case names the vaporizer, or names none and began where it stood."""
    if case.vaporizer:
        return case.vaporizer == unit
    return [place for since, place in stays if since <= case.began][-1] == case.machine
