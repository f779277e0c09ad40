"""Grounds: published roughness, ramps, files; referees are named test by test."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.signal import welch

import legwright as lw
from legwright.rig import grounds
from legwright.rig.ground import Ground, Patch
from legwright.rig.ground_choice import ground_of, leg_length
from legwright.rig.ground_file import read_ground
from legwright.rig.roughness import (
    CLASSES,
    density,
    density_for,
    deviation,
    profile,
    surface,
)


def test_classes_are_the_published_means_and_lie_inside_their_limits(reference) -> None:
    """Referee: reference_values 10, ISO 8608 tables C.1 and C.2."""
    cases = reference("10_terrain")
    for letter, gd in CLASSES.items():
        if f"ISO8608_{letter}" not in cases:
            continue
        expected = cases[f"ISO8608_{letter}"]["expected"]
        assert gd * 1e6 == pytest.approx(expected["Gd_n0_geomean_e6"], rel=1e-12)
        lower = expected["Gd_n0_lower_e6"] or 0.0
        upper = expected["Gd_n0_upper_e6"] or np.inf
        assert lower < gd * 1e6 < upper


def test_deviation_is_the_integral_of_the_density(reference) -> None:
    """Referee: reference_values 10, σ of class C from 0.011 to 2.83 cycle/m."""
    case = reference("10_terrain")["ISO8608_rms_0.000256"]
    given = case["inputs"]
    got = deviation(given["Gd_n0"], given["n1"], given["n2"])
    assert got * 1e3 == pytest.approx(case["expected"]["sigma_mm"], rel=case["tol_rel"])


@pytest.mark.parametrize("letter", ["A", "D"])
def test_a_profile_has_the_spectrum_of_its_class(letter: str) -> None:
    """Referee: Welch's estimate (scipy) against Gd(n) = Gd(n0) (n/n0)^-2."""
    spacing = 0.02
    x = spacing * np.arange(2**13)
    found = np.zeros(513)
    for seed in range(4):
        h = profile(x, letter, seed=seed, waves=1000)
        n, gd = welch(h, fs=1.0 / spacing, nperseg=1024, detrend="linear")
        found += gd / 4.0
    band = (n > 0.4) & (n < 8.0)
    expected = CLASSES[letter] * (n[band] / 0.1) ** -2.0
    ratio = found[band] / expected
    assert np.exp(np.mean(np.log(ratio))) == pytest.approx(1.0, abs=0.05)
    slope = np.polyfit(np.log(n[band]), np.log(found[band]), 1)[0]
    assert slope == pytest.approx(-2.0, abs=0.1)


@pytest.mark.parametrize("along", [0, 1])
def test_a_surface_has_the_spectrum_of_its_class_along_every_track(along: int) -> None:
    """Referee: Welch's estimate (scipy) of straight tracks, both ways, class D."""
    h = surface((1000, 1000), 0.01, "D", seed=3)
    tracks = h if along == 1 else h.T
    n, gd = welch(tracks, fs=100.0, nperseg=500, detrend="linear", axis=-1)
    band = (n > 0.5) & (n < 5.0)
    short = np.sqrt(1.0 - (n[band] / 10.0) ** 2)  # what `surface` says it loses
    ratio = gd.mean(axis=0)[band] / (CLASSES["D"] * (n[band] / 0.1) ** -2.0 * short)
    assert np.exp(np.mean(np.log(ratio))) == pytest.approx(1.0, abs=0.08)


def test_a_surface_has_the_deviation_of_its_two_dimensional_density() -> None:
    """Referee: Parseval; ∫ a k^-3 2πk dk = 2π a (1/n1 - 1/n2), a = Gd(n0) n0² / 4."""
    h = surface((1000, 1000), 0.01, "C", seed=1, low=1.0)
    variance = 2.0 * np.pi * 0.25 * CLASSES["C"] * 0.01 * (1.0 / 1.0 - 1.0 / 10.0)
    assert h.var() == pytest.approx(variance, rel=0.06)


def test_density_for_steps_gives_their_standard_deviation() -> None:
    """Referee: an even spread from 0 to h has the deviation h/√12 (textbook)."""
    assert deviation(density_for(0.055)) == pytest.approx(0.055 / np.sqrt(12.0), rel=1e-12)


def test_ramps_rise_by_the_tangent(reference) -> None:
    """Referee: reference_values 10, 15° over 1.2 m."""
    rise = reference("10_terrain")["ramp15"]["expected"]["rise_m"]
    ground = grounds.ramps(length=4.0)
    top = ground.height(grounds.PAD + 1.2, 0.0)
    assert top == pytest.approx(rise, abs=0.003)  # one sample
    assert np.ptp(ground.heights) == pytest.approx(rise, abs=0.003)


def test_steps_spread_evenly_and_the_pad_is_level() -> None:
    ground = grounds.steps(0.05, seed=1)
    ahead = grounds.PAD + grounds.CELL * (np.arange(30) + 0.5)
    middle = ground.height(ahead, np.zeros(30))
    assert 0.0 <= middle.min() < 0.015 and 0.035 < middle.max() <= 0.05
    assert (ground.height(np.linspace(-0.9, 0.45, 50), 0.1) == 0.0).all()
    same = grounds.steps(0.05, seed=1)
    other = grounds.steps(0.05, seed=2)
    assert np.array_equal(ground.heights, same.heights)
    assert not np.array_equal(ground.heights, other.heights)


def test_step_field_is_symmetric_and_whole_units() -> None:
    ground = grounds.step_field(0.1, unit=0.02, seed=4)
    x, y = np.meshgrid(0.5 + 0.1 * np.arange(30) + 0.05, 0.1 * np.arange(1, 12))
    assert np.array_equal(ground.height(x, y), ground.height(x, -y))
    units = ground.heights / 0.02
    assert np.allclose(units, np.round(units)) and units.max() == 3.0


def test_height_between_samples_is_bilinear_and_level_outside() -> None:
    ground = Ground(
        name="x", heights=np.array([[0.0, 1.0], [2.0, 3.0]]), spacing=1.0, start=(0.0, 0.0)
    )
    assert ground.height(0.5, 0.25) == pytest.approx(1.25)
    assert ground.height(-7.0, 9.0) == pytest.approx(1.0)


def test_patches_have_their_own_grip_but_never_more_than_the_feet() -> None:
    patches = (Patch(x=(0.0, 1.0), y=(0.0, 1.0), friction=0.3),)
    ground = Ground(
        name="x", heights=np.zeros((2, 2)), spacing=2.0, start=(0.0, 0.0), friction=0.9,
        patches=patches,
    )  # fmt: skip
    found = ground.friction_at([0.5, 1.5], [0.5, 0.5], 0.8)
    assert found.tolist() == [0.3, 0.8]


def test_files_give_the_heights_they_hold(tmp_path: Path) -> None:
    heights = np.linspace(0.0, 0.1, 12).reshape(4, 3)
    np.save(tmp_path / "a.npy", heights)
    np.savetxt(tmp_path / "a.csv", heights, delimiter=",")
    grey = np.round(heights[::-1, ::-1] * 2550).astype(np.uint8)
    header = b"P5\n# orchard\n3 4\n255\n"
    (tmp_path / "a.pgm").write_bytes(header + grey.tobytes())
    plain = "P2 3 4 255\n" + "\n".join(" ".join(map(str, row)) for row in grey)
    (tmp_path / "b.pgm").write_text(plain, encoding="ascii")
    for name in ("a.npy", "a.csv", "a.pgm", "b.pgm"):
        ground = read_ground(tmp_path / name, spacing=0.1, start=0.3)
        near = heights - heights[0, 1]
        got = ground.height(0.3 + 0.1 * np.arange(4)[:, None], 0.1 * (np.arange(3) - 1))
        assert np.allclose(got, near, atol=4e-4), name
        assert ground.height(0.0, 0.0) == 0.0


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("no.npy", None, "an existing file"),
        ("text.csv", b"once upon a time", "words where numbers should stand"),
        ("ragged.csv", b"1,2,3\n4,5\n", "row 2 has 2 numbers where row 1 has 3"),
        ("line.csv", b"1,2,3\n", "rows and columns, 2 or more"),
        ("nan.csv", b"1,nan\n2,3\n", "finite everywhere"),
        ("tall.csv", b"0,100\n200,300\n", "heights in metres"),
        ("empty.csv", b"", "which is empty"),
        ("empty.npy", b"", "a height map"),
        ("junk.npy", b"\x93NUMPYjunk", "a height map"),
        ("short.pgm", b"P5 40 40 255\nxy", "with 2 of 1600 pixels"),
        ("magic.pgm", b"P6 1 1 255\nxyz", "does not begin with P2 or P5"),
        ("huge.pgm", b"P5 99999999 99999999 255\n", "99999999 by 99999999 pixels"),
        ("word.pgm", b"P5 a b c\n", "a height map"),
        ("walk.png", b"\x89PNG", "a grey picture .pgm"),
        ("blob.csv", bytes(range(256)), "a height map"),
    ],
)
def test_what_is_no_height_map_is_said_in_one_sentence(
    tmp_path: Path, name: str, content: bytes | None, why: str
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(lw.RequestError) as caught:
        read_ground(path)
    said = str(caught.value)
    assert name in said and why in said and "\n" not in said


def test_grounds_by_name_scale_with_the_leg() -> None:
    robot = lw.load("robots/rook")
    assert leg_length(robot) == pytest.approx(0.085 + 0.130, abs=1e-9)
    for name in ("flat", "slope", "steps", "step-field", "ramps", "crossing-ramps", "rough"):
        ground = ground_of(robot, name, seed=1, share=0.25, length=2.0)
        assert ground.about and np.isfinite(ground.heights).all()
    assert ground_of(robot, "steps", seed=1).heights.max() <= 0.25 * leg_length(robot)
    assert "class d" in ground_of(robot, "iso-d", seed=1, length=2.0).about
    assert ground_of(robot, "soft").stiffness is not None
    assert ground_of(robot, "patches", seed=1).patches
    assert ground_of(robot, "flat", friction=0.4).friction == 0.4
    with pytest.raises(lw.RequestError, match="Did you mean 'steps'"):
        ground_of(robot, "stepps")
    with pytest.raises(lw.RequestError, match="leg length"):
        ground_of(robot, "steps", share=np.nan)


@pytest.mark.parametrize("bad", ["I", "", -1.0, 0.0, np.nan])
def test_unknown_roughness_is_refused(bad) -> None:
    with pytest.raises(lw.RequestError):
        density(bad)
