"""What last opened the breathing system or the gas path of a machine, and when."""

from logbook.answers.item import Asked


def opened_s(asked: Asked, machine: str) -> list[tuple[str, int]]:
    """Each thing that opened it, with the second at which it last did."""
    changed = asked.known.absorbent.get(machine)
    opened = [("the absorbent change", changed.at_s)] if changed else []
    for tag, stays in asked.stays.items():
        fitted = [at_s for at_s, place in stays if place == machine and at_s <= asked.moment.at_s]
        opened += [(f"{tag} was fitted", max(fitted))] if fitted else []
    return opened
