"""Circuit, bag and flows: more weight never gets less, and what cannot be is refused."""

from decimal import Decimal
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.arithmetic.bag import choose_bag
from logbook.arithmetic.circuit import Circuit, choose_circuit
from logbook.arithmetic.constants import MOST_FLOW_ML_MIN
from logbook.arithmetic.flows import Bound, keep_up_flow, non_rebreathing_flow, start_flow
from logbook.errors import InputError

FOUR_LITRES = Decimal(4000)
weights = st.decimals(min_value=10, max_value=200_000, places=2, allow_nan=False)
flowmeters = st.decimals(min_value=1, max_value=20_000, places=0, allow_nan=False)
absurd = pytest.mark.parametrize(
    "weight",
    [Decimal(text) for text in ("0", "-1", "9.99", "200000.1", "1E+20", "NaN", "Infinity")],
)


@absurd
def test_a_weight_that_no_animal_has_is_refused_by_name(weight: Decimal) -> None:
    for ask in (
        lambda: choose_circuit(weight),
        lambda: choose_bag(weight),
        lambda: start_flow(weight),
        lambda: start_flow(weight, cat=True),
        lambda: keep_up_flow(weight, FOUR_LITRES),
        lambda: non_rebreathing_flow(weight, FOUR_LITRES),
    ):
        with pytest.raises(InputError, match=r"^weight .* g makes no sense here; it must lie from"):
            ask()


@pytest.mark.parametrize("most", [Decimal(0), Decimal(-1), MOST_FLOW_ML_MIN.value + 1])
def test_a_flowmeter_that_no_machine_has_is_refused_by_name(most: Decimal) -> None:
    for ask in (
        lambda: start_flow(Decimal(5000), flowmeter_max_ml_min=most),
        lambda: start_flow(Decimal(5000), cat=True, flowmeter_max_ml_min=most),
        lambda: non_rebreathing_flow(Decimal(5000), most),
    ):
        with pytest.raises(InputError, match=r"^flowmeter maximum"):
            ask()


@given(weights, weights)
def test_more_weight_never_gets_a_smaller_bag(one: Decimal, other: Decimal) -> None:
    light, heavy = sorted((one, other))
    assert choose_bag(light).stocked_ml <= choose_bag(heavy).stocked_ml
    assert choose_bag(heavy).large_enough <= choose_bag(light).large_enough


@given(weights, weights, st.lists(st.integers(100, 9000).map(Decimal), min_size=1, max_size=6))
def test_more_weight_never_gets_a_smaller_bag_from_any_shelf(
    one: Decimal, other: Decimal, shelf: list[Decimal]
) -> None:
    light, heavy = sorted((one, other))
    assert choose_bag(light, shelf).stocked_ml <= choose_bag(heavy, shelf).stocked_ml


def test_just_above_10_kg_the_bag_is_no_smaller_than_at_10_kg() -> None:
    shelf = [Decimal(700), Decimal(1000)]
    for grams in (10_000, 10_001, 11_000, 15_000):
        assert choose_bag(Decimal(grams), shelf).stocked_ml == 1000


@given(weights)
def test_a_chosen_bag_holds_at_least_six_of_the_smaller_tidal_volume(weight: Decimal) -> None:
    bag = choose_bag(weight)
    assert bag.tidal_low_ml * 6 == bag.bag_low_ml
    assert bag.tidal_high_ml * 6 == bag.bag_high_ml
    if bag.large_enough:
        assert bag.stocked_ml >= bag.bag_low_ml
    else:
        assert "holds less than" in bag.remark


def test_a_patient_too_big_for_any_stocked_bag_gets_the_largest_and_a_remark() -> None:
    bag = choose_bag(Decimal(100_000))
    assert (bag.stocked_ml, bag.large_enough) == (Decimal(5000), False)
    assert "6000 mL" in bag.remark


def test_the_bag_comes_from_the_clinics_own_shelf_in_any_order() -> None:
    shelf = [Decimal(3000), Decimal(1000)]
    assert choose_bag(Decimal(4000), shelf).stocked_ml == 1000
    assert choose_bag(Decimal(20_000), shelf).stocked_ml == 3000


@pytest.mark.parametrize("shelf", [[], [Decimal(0)], [Decimal(-500)], [Decimal("NaN")]])
def test_a_shelf_without_bags_is_refused(shelf: list[Decimal]) -> None:
    with pytest.raises(InputError, match="stocked bag"):
        choose_bag(Decimal(4000), shelf)


@pytest.mark.parametrize(
    ("grams", "circuit"),
    [
        ("2267", Circuit.NON_REBREATHING),
        ("2267.96185", Circuit.PEDIATRIC),
        ("6803.88555", Circuit.PEDIATRIC),
        ("6804", Circuit.ADULT),
        ("40000", Circuit.ADULT),
    ],
)
def test_the_circuit_changes_at_5_and_above_15_pounds(grams: str, circuit: Circuit) -> None:
    choice = choose_circuit(Decimal(grams))
    assert choice.circuit is circuit
    assert choice.circuit.rebreathing is (circuit is not Circuit.NON_REBREATHING)


@given(weights)
def test_every_choice_of_a_circuit_tells_to_watch_the_patient(weight: Decimal) -> None:
    assert "watch the patient" in choose_circuit(weight).remark


@given(weights, weights)
def test_more_weight_never_gets_a_smaller_circuit(one: Decimal, other: Decimal) -> None:
    light, heavy = sorted((one, other))
    order = list(Circuit)
    assert order.index(choose_circuit(light).circuit) <= order.index(choose_circuit(heavy).circuit)


def test_the_remark_says_where_the_sources_differ_and_only_there() -> None:
    assert not choose_circuit(Decimal(2000)).sources_differ
    assert choose_circuit(Decimal(10_000)).sources_differ
    assert not choose_circuit(Decimal(10_001)).sources_differ
    between = choose_circuit(Decimal(4000))
    assert between.sources_differ
    assert "under 3 kg" in between.remark
    assert "from 3 to 6 kg" in between.remark
    assert "5 kg (median, half of them from 3 to 10 kg)" in between.remark


@given(weights, weights, flowmeters, flowmeters)
def test_more_weight_never_gets_a_smaller_flow(
    one: Decimal, other: Decimal, most: Decimal, start_most: Decimal
) -> None:
    light, heavy = sorted((one, other))
    start = partial(start_flow, most_ml_min=start_most)
    for rule in (start, keep_up_flow):
        small = rule(light, flowmeter_max_ml_min=most)
        large = rule(heavy, flowmeter_max_ml_min=most)
        assert small.low.ml_min <= large.low.ml_min
        assert small.high.ml_min <= large.high.ml_min
    assert non_rebreathing_flow(light, most).ml_min <= non_rebreathing_flow(heavy, most).ml_min


@given(weights, flowmeters, flowmeters)
def test_a_flow_names_the_bound_that_decided_it(
    weight: Decimal, most: Decimal, start_most: Decimal
) -> None:
    start = partial(start_flow, most_ml_min=start_most, flowmeter_max_ml_min=most)
    for flow in (
        non_rebreathing_flow(weight, most),
        keep_up_flow(weight, most).low,
        keep_up_flow(weight, most).high,
        start(weight).low,
        start(weight, cat=True).high,
    ):
        assert flow.ml_min <= most
        if flow.bound is Bound.SETTING:
            assert flow.ml_min == start_most
            assert not flow.reached
            continue
        if flow.bound is Bound.FLOWMETER:
            assert flow.ml_min == most
            assert not flow.reached
        else:
            assert flow.reached
            assert flow.ml_min == flow.wanted_ml_min >= 500
        if flow.bound is Bound.FLOOR:
            assert flow.ml_min == 500


def test_each_bound_acts_where_it_should() -> None:
    assert non_rebreathing_flow(Decimal(2000), FOUR_LITRES).bound is Bound.FLOOR
    assert non_rebreathing_flow(Decimal(2500), FOUR_LITRES).bound is Bound.WEIGHT
    assert non_rebreathing_flow(Decimal(20_001), FOUR_LITRES).bound is Bound.FLOWMETER
    assert start_flow(Decimal(4000), cat=True).low.bound is Bound.CAT


@pytest.mark.parametrize(
    ("most", "flowmeter", "bound"),
    [
        ("3600", None, Bound.WEIGHT),
        ("3599", None, Bound.SETTING),
        ("3599", "3599", Bound.SETTING),
        ("3599", "3598", Bound.FLOWMETER),
        (None, "3599", Bound.FLOWMETER),
        (None, None, Bound.WEIGHT),
    ],
)
def test_the_lowest_of_rule_limit_and_flowmeter_decides_and_is_named(
    most: str | None, flowmeter: str | None, bound: Bound
) -> None:
    flows = start_flow(
        Decimal(12_000),
        most_ml_min=Decimal(most) if most else None,
        flowmeter_max_ml_min=Decimal(flowmeter) if flowmeter else None,
    )
    assert flows.high.bound is bound
    assert flows.high.wanted_ml_min == 3600


def test_a_small_flowmeter_never_hides_that_the_flow_is_not_reached() -> None:
    flow = non_rebreathing_flow(Decimal(1000), Decimal(300))
    assert (flow.ml_min, flow.wanted_ml_min, flow.reached) == (300, 500, False)
