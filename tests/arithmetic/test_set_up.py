"""What a set-up says, each number worked out by hand beside it."""

from decimal import Decimal

import pytest

from logbook.arithmetic.circuit import WATCH, Circuit
from logbook.arithmetic.flows import Bound, Flow, FlowRange
from logbook.arithmetic.setup import Patient, Setup, set_up
from logbook.errors import InputError

POP_OFF = "Pop-off valve open unless a hand is on it."
FLUSH = "Never press the oxygen flush with the patient connected."
HIGH_FLOW = "High flow only for the first 10 to 15 minutes, then turn it down."
TOO_LITTLE = "This flowmeter cannot give enough flow: use a rebreathing circuit."
LOOK = "Watch the patient: valves and bag must move with each breath."
SOURCES = (
    "Sources differ about the first minutes: 200 to 300 mL/kg/min (practice), 2 to 3 L/min "
    "whatever the weight, or 50 to 100 mL/kg/min."
)


def a_dog(**said) -> Setup:
    """A dog of 12 kg for 90 minutes, and what else is said."""
    return set_up(Patient(Decimal(12_000), "dog"), 90 * 60, **said)


def test_a_dog_of_12_kg() -> None:
    told = a_dog()
    assert told.circuit is Circuit.ADULT
    assert told.bag.stocked_ml == 1000  # Six tidal volumes of 10 to 15 mL/kg: 720 to 1080 mL.
    assert (told.start.low.ml_min, told.start.high.ml_min) == (2400, 3600)
    assert (told.keep_up.low.ml_min, told.keep_up.high.ml_min) == (500, 600)
    assert (told.planned_s, told.agent, told.dial_percent) == (5400, "isoflurane", 2)
    # 15 min at 3.6 L/min and 75 min at 0.6 L/min.
    assert told.oxygen_l == 99
    # On 99 L come 2 % of all that flows, 99 000 × 2 / 98 mL of vapour; one mL of liquid makes 195.
    assert told.agent_ml == Decimal("10.4")
    assert told.cautions == [POP_OFF, HIGH_FLOW, LOOK]
    assert told.remarks == [SOURCES]


def test_a_cat_takes_the_rule_for_cats_and_hears_where_the_sources_differ() -> None:
    told = set_up(Patient(Decimal(4_000), "cat"), 600)
    assert told.circuit is Circuit.PEDIATRIC
    assert told.start.high == Flow(Decimal(3000), Bound.CAT, Decimal(3000))
    assert told.oxygen_l == 30  # Ten minutes, which are all within the first fifteen.
    assert told.remarks[0].startswith("Sources differ here: non-rebreathing under 3 kg")
    assert told.remarks[0].endswith(WATCH)
    assert told.remarks[1:] == [
        SOURCES,
        "AAFP 2018 prints a 1 L bag for a cat of 3 to 10 kg on a circle.",
    ]


def test_without_a_species_no_rule_of_cats_and_no_range_applies() -> None:
    told = set_up(Patient(Decimal(4_000)), 600)
    assert told.start.high.ml_min == 1200
    assert set_up(Patient(Decimal(150_000)), 600, start_most_ml_min=Decimal(5000)).agent_ml
    assert set_up(Patient(Decimal(250), "ferret"), 600).circuit is Circuit.NON_REBREATHING


def test_a_circuit_that_is_chosen_against_the_weight_is_told() -> None:
    told = a_dog(circuit=Circuit.NON_REBREATHING, agent="sevoflurane")
    same = Flow(Decimal(2400), Bound.WEIGHT, Decimal(2400))
    assert told.start == told.keep_up == FlowRange(same, same)
    assert told.dial_percent == 3
    assert told.oxygen_l == 216
    assert told.cautions == [FLUSH, POP_OFF, LOOK]
    assert told.remarks == ["By weight the house rule is adult rebreathing; you chose " + (
        "non-rebreathing."
    )]  # fmt: skip


def test_a_flowmeter_that_gives_too_little_is_the_gravest_caution() -> None:
    told = a_dog(circuit=Circuit.NON_REBREATHING, flowmeter_max_ml_min=Decimal(2399))
    assert told.cautions == [TOO_LITTLE, FLUSH, POP_OFF, LOOK]
    told = a_dog(circuit=Circuit.NON_REBREATHING, flowmeter_max_ml_min=Decimal(2400))
    assert told.cautions == [FLUSH, POP_OFF, LOOK]


def test_the_clinics_limit_and_the_flowmeter_stop_the_first_minutes() -> None:
    told = a_dog(start_most_ml_min=Decimal(3000), flowmeter_max_ml_min=Decimal(2000))
    assert told.start.high == Flow(Decimal(2000), Bound.FLOWMETER, Decimal(3600))
    told = a_dog(start_most_ml_min=Decimal(3000), flowmeter_max_ml_min=Decimal(4000))
    assert told.start.high == Flow(Decimal(3000), Bound.SETTING, Decimal(3600))
    assert a_dog(flowmeter_max_ml_min=Decimal(550)).keep_up.high == Flow(
        Decimal(550), Bound.FLOWMETER, Decimal(600)
    )


def test_a_dial_that_is_told_counts_also_at_nothing() -> None:
    assert a_dog(dial_percent=Decimal(0)).agent_ml == 0
    assert a_dog(dial_percent=Decimal(4)).dial_percent == 4


def test_exactly_the_first_minutes_end_where_the_lower_flow_begins() -> None:
    patient = Patient(Decimal(12_000))
    assert set_up(patient, 15 * 60).oxygen_l == 54
    assert set_up(patient, 16 * 60).oxygen_l == Decimal("54.6")


def test_amounts_are_rounded_up_to_a_tenth() -> None:
    # 10 s at 3.6 L/min are 0.6 L; 12 s are 0.72 L.
    patient = Patient(Decimal(12_000))
    assert set_up(patient, 10).oxygen_l == Decimal("0.6")
    assert set_up(patient, 12).oxygen_l == Decimal("0.8")


@pytest.mark.parametrize(
    ("species", "least_g", "most_g"), [("cat", 300, 15_000), ("dog", 300, 120_000)]
)
def test_the_bounds_of_a_species_are_held_on_them_and_a_gram_beyond(
    species: str, least_g: int, most_g: int
) -> None:
    stop = Decimal(5000)
    for weight_g in (least_g, most_g):
        assert set_up(Patient(Decimal(weight_g), species), 60, start_most_ml_min=stop)
    span = f"{least_g / 1000:g} to {most_g // 1000} kg"
    for weight_g, kg in ((least_g - 1, "0.299"), (most_g + 1, f"{most_g // 1000}.001")):
        with pytest.raises(InputError) as refused:
            set_up(Patient(Decimal(weight_g), species), 60, start_most_ml_min=stop)
        assert str(refused.value) == (
            f"a {species} of {kg} kg lies outside {span}; "
            "check the weight and its unit, or leave the species out"
        )


def test_a_flow_that_no_flowmeter_gives_is_refused_instead_of_counted() -> None:
    # 300 mL/kg/min of 66.667 kg are the 20 L/min that are counted with at most.
    assert set_up(Patient(Decimal(66_666)), 60).start.high.ml_min == Decimal("19999.8")
    with pytest.raises(InputError) as refused:
        set_up(Patient(Decimal(70_000)), 60)
    assert str(refused.value) == (
        "the flow 21 L/min that the rule for adult rebreathing circuits asks is more than is "
        "counted with (20 L/min); set the limit start-flow, or name the machine whose flowmeter "
        "counts"
    )
    with pytest.raises(InputError, match="take a rebreathing circuit, or name the machine"):
        set_up(Patient(Decimal(110_000)), 60, circuit=Circuit.NON_REBREATHING)
    assert set_up(Patient(Decimal(100_000)), 60, circuit=Circuit.NON_REBREATHING).oxygen_l == 20


@pytest.mark.parametrize("planned_s", [0, -1, 86_401])
def test_a_time_that_cannot_be_planned_is_refused(planned_s: int) -> None:
    with pytest.raises(InputError, match=r"^planned time "):
        set_up(Patient(Decimal(12_000)), planned_s)
    assert set_up(Patient(Decimal(12_000)), 86_400).planned_s == 86_400


def test_a_bag_that_is_too_small_is_told() -> None:
    told = set_up(Patient(Decimal(120_000), "dog"), 60, start_most_ml_min=Decimal(5000))
    assert told.remarks[-1] == (
        "The largest stocked bag holds less than the 7200 mL that the rule asks."
    )
