"""Network: against SciPy's sparse nodal analysis, the power balance, and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from legwright.electrics.flow import flow, tally
from legwright.electrics.network import Element, Network, Regulator, Source, network
from legwright.electrics.settling import settle
from legwright.errors import RequestError


def random_tree(rng: np.random.Generator, loads: int) -> tuple[Network, list[Element], float]:
    """A radial network whose parts are listed in no order and point either way."""
    elements = []
    for node in range(1, loads + 1):
        ends = [f"n{rng.integers(0, node)}", f"n{node}"]
        rng.shuffle(ends)
        ohms = float(10.0 ** rng.uniform(-3.0, -1.0))
        elements.append(Element(name=f"w{node}", start=ends[0], end=ends[1], resistance=ohms))
    inner = float(rng.uniform(0.005, 0.05))
    shuffled = [elements[at] for at in rng.permutation(loads)]
    source = Source(name="pack", node="n0", voltage=12.0, resistance=inner)
    return network([source], shuffled), elements, inner


def nodal(elements: list[Element], inner: float, drawn: dict[str, float]) -> dict[str, float]:
    """Node voltages by sparse nodal analysis: G v = i, the source as its Norton equivalent."""
    names = [f"n{at}" for at in range(len(elements) + 1)]
    at = {name: row for row, name in enumerate(names)}
    rows, columns, values = [at["n0"]], [at["n0"]], [1.0 / inner]
    right = -np.array([drawn.get(name, 0.0) for name in names])
    right[at["n0"]] += 12.0 / inner
    for element in elements:
        a, b, g = at[element.start], at[element.end], 1.0 / element.resistance
        rows += [a, b, a, b]
        columns += [a, b, b, a]
        values += [g, g, -g, -g]
    matrix = coo_matrix((values, (rows, columns)), shape=(len(names),) * 2).tocsc()
    return dict(zip(names, spsolve(matrix, right), strict=True))


def test_200_random_trees_agree_with_sparse_nodal_analysis() -> None:
    """Referee: SciPy's sparse LU on the nodal equations, written here."""
    rng = np.random.default_rng(3)
    for _ in range(200):
        loads = int(rng.integers(1, 61))
        net, elements, inner = random_tree(rng, loads)
        drawn = {f"n{n}": float(rng.uniform(0.0, 4.0 / loads)) for n in range(1, loads + 1)}
        ours = flow(net, current=drawn)
        theirs = nodal(elements, inner, drawn)
        for name, volts in theirs.items():
            assert ours.voltage[0, net.node(name)] == pytest.approx(volts, rel=1e-9)
        assert ours.imbalance.max() <= 1e-9


@pytest.mark.parametrize("share", [1.0, 0.2])
def test_constant_power_agrees_with_nodal_analysis_at_the_found_currents(share: float) -> None:
    """Referee: the same linear solver, fed with P / V of our answer; and the power balance.

    Where few nodes are loaded, most only pass on.
    """
    rng = np.random.default_rng(5)
    for _ in range(50):
        loads = int(rng.integers(1, 40))
        net, elements, inner = random_tree(rng, loads)
        watts = {f"n{n}": float(rng.uniform(0.0, 30.0 / loads)) for n in range(1, loads + 1)}
        watts = {name: watt if rng.random() < share else 0.0 for name, watt in watts.items()}
        ours = flow(net, power=watts)
        assert ours.solved.all()
        volts = {name: float(ours.voltage[0, net.node(name)]) for name in watts}
        theirs = nodal(elements, inner, {name: watts[name] / volts[name] for name in watts})
        for name, volt in volts.items():
            assert volt == pytest.approx(theirs[name], rel=1e-9)
        assert ours.imbalance.max() <= 1e-9


def one_load(resistance: float = 0.5) -> Network:
    return network([Source(name="pack", node="t", voltage=12.0, resistance=resistance)], [])


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 0.999, 1.0 - 1e-7])
def test_one_constant_power_load_is_the_larger_root(share: float) -> None:
    """Referee: closed form V = (U + √(U² - 4 R P)) / 2, textbook."""
    power = share * 72.0
    result = flow(one_load(), power={"t": power})
    assert result.solved.all()
    exact = 0.5 * (12.0 + np.sqrt(144.0 - 2.0 * power))
    assert result.voltage[0, 1] == pytest.approx(exact, rel=1e-7)


@pytest.mark.parametrize("share", [1.0 + 1e-6, 1.1, 10.0])
def test_more_power_than_the_resistance_lets_through_has_no_solution(share: float) -> None:
    """Referee: maximum power transfer, U² / 4R = 72 W."""
    result = flow(one_load(), power={"t": [1.0, share * 72.0]})
    assert result.solved.tolist() == [True, False]
    assert np.isnan(result.voltage[1]).all()
    with pytest.raises(RequestError, match="without a solution"):
        tally(result)


def test_a_tree_has_a_solution_exactly_up_to_its_nose() -> None:
    """Referee: two equal branches behind a common resistance act as one load of twice the
    power: with R0 + R/2 in series, P_max = U² / (8 (R0 + R/2)) each."""
    wires = [Element(name=f"w{n}", start="t", end=f"s{n}", resistance=0.4) for n in (1, 2)]
    net = network([Source(name="pack", node="t", voltage=12.0, resistance=0.3)], wires)
    most = 144.0 / (8.0 * 0.5)
    assert flow(net, power={"s1": most * (1 - 1e-6), "s2": most * (1 - 1e-6)}).solved.all()
    assert not flow(net, power={"s1": most * (1 + 1e-6), "s2": most * (1 + 1e-6)}).solved.any()


def test_a_regulator_holds_its_output_and_draws_constant_power() -> None:
    """Referee: power balance by hand, 4 A at 5 V, 80 %, 0.5 W of its own."""
    net = network(
        [Source(name="pack", node="t", voltage=12.0, resistance=0.1)],
        [Element(name="usb", start="out", end="pc", resistance=0.05)],
        [Regulator(name="reg", start="t", end="out", voltage=5.0, efficiency=0.8, idle=0.5)],
    )
    result = flow(net, current={"pc": 4.0})
    assert result.voltage[0, net.node("pc")] == pytest.approx(4.8, rel=1e-12)
    terminal = result.voltage[0, net.node("t")]
    assert (12.0 - terminal) / 0.1 * terminal == pytest.approx(25.5, rel=1e-9)
    assert result.imbalance.max() <= 1e-9
    heat = dict(zip(net.elements, result.loss[0], strict=True))
    assert heat["reg"] == pytest.approx(5.5, rel=1e-9)


def test_samples_are_solved_each_on_its_own() -> None:
    """Referee: one solve per sample."""
    rng = np.random.default_rng(8)
    net, _, _ = random_tree(rng, 18)
    current = rng.uniform(0.0, 0.3, size=(40, len(net.nodes)))
    supply = rng.uniform(10.0, 12.6, size=40)
    together = flow(net, current=current, supply=supply)
    for t in range(40):
        alone = flow(net, current=current[t], supply=supply[t])
        np.testing.assert_array_equal(together.voltage[t], alone.voltage[0])
    assert together.imbalance.max() <= 1e-9


def test_tally_of_a_square_wave() -> None:
    """Referee: RMS 1/√2, mean 1/2, drop and loss by Ohm and Joule."""
    net = one_load(0.5)
    sums = tally(flow(net, current={"t": [0.0, 2.0, 0.0, 2.0]}))
    assert sums.peak[1] == pytest.approx(2.0)
    assert sums.rms[1] == pytest.approx(np.sqrt(2.0))
    assert sums.mean[1] == pytest.approx(1.0)
    assert sums.drop[1] == pytest.approx(1.0)
    assert sums.loss[1] == pytest.approx(1.0)
    assert (sums.worst[1], sums.lowest_at[1]) == (1, 1)
    assert sums.lowest[1] == pytest.approx(11.0)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 30), st.floats(0.0, 2.0))
def test_more_load_anywhere_lowers_every_voltage(seed: int, loads: int, more: float) -> None:
    """Referee: the inverse of a nodal matrix has no negative entry."""
    rng = np.random.default_rng(seed)
    net, _, _ = random_tree(rng, loads)
    amps = rng.uniform(0.0, 1.0 / loads, size=len(net.nodes))
    heavier = amps.copy()
    heavier[rng.integers(1, len(amps))] += more / loads
    assert (flow(net, current=heavier).voltage <= flow(net, current=amps).voltage + 1e-12).all()


def test_paths_name_what_lies_between() -> None:
    net = network(
        [Source(name="pack", node="t", voltage=12.0)],
        [
            Element(name="branch", start="coxa", end="hub", resistance=0.1),
            Element(name="trunk", start="t", end="hub", resistance=0.1),
        ],
    )
    assert net.path("coxa") == ("pack", "trunk", "branch")
    with pytest.raises(RequestError, match="node is 'tibia'"):
        net.node("tibia")


PACK = Source(name="pack", node="t", voltage=12.0, resistance=0.1)


def wire(name: str, start: str, end: str, resistance: float = 0.1) -> Element:
    return Element(name=name, start=start, end=end, resistance=resistance)


@pytest.mark.parametrize(
    ("sources", "elements", "regulators", "says"),
    [
        ([], [wire("w", "t", "a")], [], "no source"),
        ([PACK], [wire("w", "t", "a"), wire("x", "b", "c")], [], "floating branch: 'x'"),
        (
            [PACK],
            [wire("w", "a", "b"), wire("x", "b", "c"), wire("y", "c", "a")],
            [],
            "loop without a source",
        ),
        (
            [PACK],
            [wire("w", "t", "a"), wire("x", "a", "b"), wire("y", "b", "t")],
            [],
            "closes a loop",
        ),
        ([PACK, Source(name="other", node="t", voltage=11.1)], [], [], "'pack' and 'other'"),
        (
            [PACK, Source(name="other", node="a", voltage=12.0)],
            [wire("w", "t", "a")],
            [],
            "one node",
        ),
        ([PACK], [wire("w", "t", "a"), wire("w", "a", "b")], [], "once only"),
        ([PACK], [wire("w", "t", "a", -1.0)], [], "resistance of w"),
        ([PACK], [wire("w", "t", "t")], [], "two different nodes"),
        ([PACK], [], [Regulator(name="r", start="o", end="t", voltage=5.0)], "not output"),
        (
            [PACK],
            [],
            [Regulator(name="r", start="t", end="o", voltage=5.0, efficiency=0.0)],
            "efficiency of r",
        ),
    ],
)
def test_networks_that_cannot_be_are_refused(
    sources: list[Source], elements: list[Element], regulators: list[Regulator], says: str
) -> None:
    with pytest.raises(RequestError, match=says):
        network(sources, elements, regulators)


def test_equal_sources_in_parallel_share_the_load() -> None:
    """Referee: 1/R = 1/R1 + 1/R2."""
    other = Source(name="other", node="t", voltage=12.0, resistance=0.4)
    net = network([PACK, other], [])
    assert flow(net, current={"t": 10.0}).voltage[0, 1] == pytest.approx(12.0 - 10.0 * 0.08)


def test_loads_that_cannot_be_are_refused() -> None:
    with pytest.raises(RequestError, match="at least 0"):
        flow(one_load(), power={"t": -1.0})
    with pytest.raises(RequestError, match="finite"):
        flow(one_load(), current={"t": np.nan})
    with pytest.raises(RequestError, match="node"):
        flow(one_load(), current={"nowhere": 1.0})
    with pytest.raises(RequestError, match="shape"):
        flow(one_load(), current=np.zeros((3, 7)))


def test_settling_finds_constant_power_loads() -> None:
    """Referee: the direct constant-power solve of the same tree."""
    net, _, _ = random_tree(np.random.default_rng(12), 18)
    watts = np.zeros(len(net.nodes))
    watts[2:] = 1.0
    settled = settle(net, lambda volts: watts / volts)
    assert settled.converged.all() and not settled.brown_out.any() and settled.why == ""
    direct = flow(net, power=watts)
    np.testing.assert_allclose(settled.flow.voltage, direct.voltage, rtol=1e-8)


def test_settling_finds_a_resistive_load() -> None:
    """Referee: voltage divider; held at its unloaded power the heavy one has no solution."""
    for ohms in (5.5, 0.7, 0.1):
        settled = settle(one_load(0.5), lambda volts, r=ohms: volts / r * [0.0, 1.0])
        assert settled.converged.all() and settled.why == ""
        assert settled.flow.voltage[0, 1] == pytest.approx(12.0 * ohms / (ohms + 0.5), rel=1e-8)


def test_resistive_loads_are_solved_directly() -> None:
    """Referee: voltage divider; and the power balance."""
    result = flow(one_load(0.5), conductance={"t": 1.0 / 5.5})
    assert result.voltage[0, 1] == pytest.approx(11.0, rel=1e-12)
    assert result.imbalance.max() <= 1e-9


def test_a_sample_is_solved_whatever_was_solved_before_it() -> None:
    """Referee: each sample alone; close to the most power, far from it, beyond it, by turns.

    A sample begins where the one before ended: at the largest solution all the same.
    """
    rng = np.random.default_rng(8)
    for regulated in (False, True):
        wires = [
            Element(name="w1", start="t", end="a", resistance=0.3),
            Element(name="w2", start="a", end="b", resistance=0.4),
            Element(name="w3", start="b", end="d", resistance=0.2),
            Element(name="w4", start="c" if regulated else "b", end="e", resistance=0.1),
        ]
        rail = [Regulator(name="r", start="b", end="c", voltage=5.0, efficiency=0.9)]
        net = network([PACK], wires, rail if regulated else [])
        watts = np.zeros((400, len(net.nodes)))
        for name, share in {"a": 0.2, "d": 0.5, "e": 0.3}.items():
            watts[:, net.node(name)] = share * rng.choice([0.0, 1.0, 20.0, 38.0, 44.0, 60.0], 400)
        watts *= rng.uniform(0.9, 1.1, watts.shape)
        fed_back = -rng.uniform(0.0, 2.0, watts.shape) * (rng.random((400, 1)) < 0.2)
        fed_back[:, :2] = 0.0
        found = flow(net, power=watts, current=fed_back)
        alone = [flow(net, power=p, current=i) for p, i in zip(watts, fed_back, strict=True)]
        assert found.solved.tolist() == [bool(one.solved[0]) for one in alone]
        assert 40 < found.solved.sum() < 399
        for name in ("voltage", "current", "drawn"):
            expected = np.vstack([getattr(one, name) for one in alone])
            np.testing.assert_allclose(getattr(found, name), expected, rtol=1e-8, atol=1e-9)


def test_a_brown_out_is_told_from_a_sound_sample() -> None:
    """Referee: maximum power transfer; 40 W settles, 80 W has no operating point."""
    net = one_load(0.5)
    watts = np.array([[0.0, 40.0], [0.0, 80.0]])
    settled = settle(net, lambda volts: watts / volts, supply=[12.0, 12.0])
    assert settled.converged.tolist() == [True, False]
    assert settled.brown_out.tolist() == [False, True]
    assert "1 of 2 samples" in settled.why


def test_a_collapsed_sample_leaves_the_others_time_to_settle() -> None:
    """Referee: voltage divider for the slow sample; 80 W and 5 kW have no operating point."""
    watts = np.array([[0.0, 80.0], [0.0, 5000.0], [0.0, 0.0]])
    ease = np.array([[0.0, 0.0], [0.0, 0.0], [0.0, 1.0 / 0.01]])
    settled = settle(
        one_load(0.5), lambda volts: watts / volts + ease * volts, supply=np.full(3, 12.0)
    )
    assert settled.impossible.tolist() == [True, True, False]
    assert settled.converged.tolist() == [False, False, True]
    assert settled.flow.voltage[2, 1] == pytest.approx(12.0 * 0.01 / 0.51, rel=1e-7)
    stubborn = settle(
        one_load(0.5),
        lambda volts: watts / volts + np.where(volts > 11.0, 8.0, 0.0) * (ease > 0.0),
        supply=np.full(3, 12.0),
    )
    assert stubborn.impossible.tolist() == [True, True, False]
    assert np.isfinite(stubborn.flow.voltage).all()


def test_a_load_below_its_floor_browns_out_though_it_settles() -> None:
    settled = settle(one_load(0.5), lambda volts: 40.0 / volts * [0.0, 1.0], floor=10.5)
    assert settled.converged.all() and settled.brown_out.all()
    assert "below the lowest allowed voltage" in settled.why


def test_a_starved_regulator_browns_out() -> None:
    """Referee: 12 V less 8 A in 0.5 ohm leaves 8 V; a 7 V input suffices, a 9 V one does not."""
    for least, starved in ((7.0, False), (9.0, True)):
        regulator = Regulator(name="reg", start="t", end="pc", voltage=5.0, least=least)
        pack = Source(name="pack", node="t", voltage=12.0, resistance=0.5)
        net = network([pack], [], [regulator])
        watts = flow(net, current={"t": 8.0})
        assert bool(watts.starved.any()) is starved
        settled = settle(net, lambda volts: np.broadcast_to([0.0, 8.0, 0.0], volts.shape))
        assert settled.converged.all()
        assert bool(settled.brown_out.all()) is starved


def test_currents_that_never_agree_are_reported() -> None:
    """A load that switches off when it sees little voltage and on again when it sees much."""

    def chatter(volts: np.ndarray) -> np.ndarray:
        return np.where(volts > 11.0, 8.0, 0.0) * [0.0, 1.0]

    settled = settle(one_load(0.5), chatter, most=30)
    assert not settled.converged.any()
    assert "did not settle within 30" in settled.why
