"""What the lights show: published colour differences, flash limits, and no mistaken meaning."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from legwright.errors import RequestError, RigError
from legwright.rig.lights.colour import DEFICIENCY, difference, lab, seen_with
from legwright.rig.lights.shown import FASTEST, MEANINGS, Calmer, Pattern, Scene, places, shown
from legwright.rig.lights.strip import Strip, frame
from legwright.rig.supervisor import Mode

REFERENCES = json.loads(
    (Path(__file__).parents[1] / "data" / "reference_values.json").read_text(encoding="utf-8")
)["topics"]["11_lights"]
PAIRS = [case for case in REFERENCES if case["id"].startswith("dE2000")]


@pytest.mark.parametrize("case", PAIRS, ids=[case["id"] for case in PAIRS])
def test_ciede2000_as_published(case):
    found = float(difference(case["inputs"]["lab1"], case["inputs"]["lab2"]))
    assert found == pytest.approx(case["expected"]["dE"], rel=case["tol_rel"])
    back = float(difference(case["inputs"]["lab2"], case["inputs"]["lab1"]))
    assert back == pytest.approx(found, rel=1e-9)


def test_white_is_white_to_everybody():
    np.testing.assert_allclose(lab(np.ones(3)), [100.0, 0.0, 0.0], atol=1e-9)
    for deficiency in DEFICIENCY:
        np.testing.assert_allclose(seen_with(np.ones(3), deficiency), 1.0, atol=1e-5)


@pytest.mark.parametrize("deficiency", [None, *DEFICIENCY])
@pytest.mark.parametrize("pair", list(itertools.combinations(MEANINGS, 2)))
def test_no_two_meanings_look_alike(pair: tuple[str, str], deficiency: str | None):
    seen = [MEANINGS[name] for name in pair]
    if deficiency:
        seen = [seen_with(one, deficiency) for one in seen]
    assert float(difference(lab(seen[0]), lab(seen[1]))) > 25.0


def flashes(lights: np.ndarray, step: float) -> int:
    """Most flashes of one light in any second: pairs of opposing changes (WCAG 2.2, 2.3.1)."""
    light = lights @ np.array([0.2126, 0.7152, 0.0722])
    most = 0
    for one in light.T:
        turns, way, last = [], 0, one[0]
        for k, value in enumerate(one):
            if abs(value - last) > 0.1:
                if (value > last) != (way > 0) or way == 0:
                    turns.append(k * step)
                way, last = (1 if value > last else -1), value
        times = np.array(turns)
        for t in times:
            most = max(most, int(((times >= t) & (times < t + 1.0)).sum()) // 2)
    return most


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(Mode), st.booleans(), st.booleans(), st.sampled_from(Pattern),
            st.lists(st.booleans(), min_size=6, max_size=6), st.floats(0.0, 2.0),
            st.integers(1, 40),
        ),
        min_size=1,
        max_size=60,
    )
)  # fmt: skip
def test_no_light_flashes_above_three_hertz(script):
    calmer, time, seen = Calmer(12), 0.0, []
    for mode, warning, act, pattern, contact, strain, ticks in script:
        scene = Scene(
            mode=mode, warning=warning, act=act, contact=np.array(contact),
            strain=np.full(6, strain), value=strain / 2.0,
        )  # fmt: skip
        for _ in range(ticks):
            seen.append(calmer.calm(shown(scene, pattern, time, 12), time))
            time += 0.02
    assert flashes(np.array(seen), 0.02) <= FASTEST


def test_every_mode_differs_from_every_other_in_two_seconds():
    shows = {}
    for mode in Mode:
        rows = [shown(Scene(mode=mode), Pattern.STATE, 0.02 * k, 12) for k in range(100)]
        shows[mode] = np.array(rows)
    for one, other in itertools.combinations(Mode, 2):
        gap = np.abs(shows[one] - shows[other]).max(axis=(1, 2))
        assert (gap > 0.1).mean() > 0.2, (one, other)


def test_faults_show_over_every_pattern():
    for pattern in Pattern:
        scene = Scene(mode=Mode.FAULT, contact=np.ones(6, dtype=bool), strain=np.zeros(6))
        assert (shown(scene, pattern, 0.0, 12)[:, 0] > 0.5).all()
        assert (shown(scene, pattern, 0.0, 12)[:, 1:] == 0.0).all()


@pytest.mark.parametrize("legs", [4, 6, 8])
def test_each_leg_has_its_share_of_the_ring(legs: int):
    where = places(24, legs)
    assert [int((where == leg).sum()) for leg in range(legs)] == [24 // legs] * legs
    assert where[0] == 0 and where[-1] == legs // 2, "nose: left-front and right-front"


def test_gait_pattern_lights_the_feet_that_stand():
    contact = np.array([True, False, True, False, True, False])
    lights = shown(
        Scene(mode=Mode.WALKING, contact=contact, strain=np.zeros(6)), Pattern.GAIT, 0.0, 12
    )
    bright = lights.max(axis=1) > 0.3
    np.testing.assert_array_equal(bright, contact[places(12, 6)])


def test_a_strip_gets_its_frame(tmp_path: Path):
    lights = np.array([[1.0, 0.5, 0.0], [0.0, 0.0, 1.0]])
    data = frame(lights)
    assert data[:4] == bytes(4)
    assert data[4:12] == bytes([0xFF, 0, 128, 255, 0xFF, 255, 0, 0])
    assert 8 * len(data[12:]) >= 32 + 1
    device = tmp_path / "spi"
    device.write_bytes(b"")
    strip = Strip(device)
    strip.show(lights)
    strip.close()
    assert device.read_bytes() == data
    with pytest.raises(RigError, match="cannot be opened"):
        Strip(tmp_path / "none")


def test_no_lights_are_refused():
    with pytest.raises(RequestError):
        shown(Scene(mode=Mode.LIMP), Pattern.STATE, 0.0, 0)
