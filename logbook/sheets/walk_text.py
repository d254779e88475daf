"""How an item is done on the machine at hand: the list's words, with what the machine adds."""

from decimal import Decimal

from logbook.answers.checking import ToWalk
from logbook.arithmetic.constants import BAG_COMPLIANCE_ML_CMH2O, GAUGE_STEP_CMH2O
from logbook.arithmetic.leak import leak_of_fall
from logbook.checklists import Item
from logbook.units import format_decimal
from logbook.vocabulary import size_words


def instruction(walk: ToWalk, item: Item) -> str:
    """What to do, at which pressure, and at which figure of the maker's; the words of a list leave
    out what a clinic may set and what differs from machine to machine."""
    said = [item.how]
    if item.pressure:
        said.append(f"Test pressure: {format_decimal(walk.limits[item.pressure])} cmH2O.")
    if item.or_hold and item.pressure:
        said.append(_timing(walk, walk.limits[item.or_hold]))
    cylinders = walk.profile.cylinders or ()
    if item.reads == "cylinder" and len(cylinders) > 1:
        number = item.number or 1
        size = size_words(cylinders[number - 1])
        said.append(f"Cylinder {number} of {len(cylinders)} ({size}) counts here.")
    if item.shows == "relief-valve":
        figure = walk.profile.relief_valve_cmh2o
        said.append(
            "The maker's figure is not recorded: look it up first."
            if figure is None
            else f"The maker's figure: {format_decimal(figure)} cmH2O."
        )
    return " ".join(said)


def _timing(walk: ToWalk, hold_s: Decimal) -> str:
    """What a timed fall can show: a flow, where the compliance is on record, else little."""
    compliance, step = walk.profile.compliance_ml_cmh2o, GAUGE_STEP_CMH2O.value
    counted = BAG_COMPLIANCE_ML_CMH2O.value if compliance is None else compliance
    flow = format_decimal(leak_of_fall(counted, step, Decimal(0), int(hold_s)).read, 0)
    time = format_decimal(hold_s)
    if compliance is None:
        return (
            f"Timed for {time} s it shows a large leak only: with a bag on, 1 cmH2O is about "
            f"{flow} mL/min."
        )
    return (
        f"Timed for {time} s, 1 cmH2O is {flow} mL/min, with the bag or without as when the "
        "compliance was measured."
    )
