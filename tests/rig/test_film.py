"""Pictures: written whatever the graphics stack, and showing that something moved."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import legwright as lw
from legwright.locomotion.stance import footing
from legwright.rig import film as film_module
from legwright.rig import grounds
from legwright.rig.film import Film
from legwright.rig.world import World
from legwright.robot.robot import Robot


@pytest.fixture
def film(rook: Robot) -> Film:
    world = World(rook, grounds.steps(0.02, seed=1), seed=1)
    film = Film(world, size=(240, 150))
    for place in (0.0, 0.3, 0.6):
        world.reset(footing(rook).q, at=(place, 0.0))
        film.frames.append(world.pose())
    return film


def test_a_drawing_needs_no_graphics_stack(
    film: Film, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(film_module, "CONTEXTS", ())
    assert film.strip(tmp_path / "a.png", count=3) == "drawing"
    with Image.open(tmp_path / "a.png") as image:
        picture = np.asarray(image.convert("L")).astype(int)
    assert picture.shape == (450, 240)
    assert np.ptp(picture) > 100  # feet and paper
    assert np.abs(picture[:150] - picture[300:]).max() > 30


def test_a_broken_graphics_stack_is_no_failure(
    film: Film, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(film_module, "CONTEXTS", ("no.such_context", "json"))
    assert film.animation(tmp_path / "a.gif") == "drawing"
    with Image.open(tmp_path / "a.gif") as image:
        assert image.n_frames == 3 and image.size == (240, 150)


def test_whatever_renders_writes_a_picture_with_contrast(film: Film, tmp_path: Path) -> None:
    how = film.strip(tmp_path / "a.png", count=2)
    assert how in ("egl", "osmesa", "drawing")
    with Image.open(tmp_path / "a.png") as image:
        assert np.asarray(image).std() > 5.0


def test_nothing_to_show_or_nowhere_to_write_is_said(
    film: Film, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(film_module, "CONTEXTS", ())
    with pytest.raises(lw.RequestError, match="picture"):
        film.strip(tmp_path / "no" / "a.png")
    film.frames.clear()
    with pytest.raises(lw.RequestError, match="film"):
        film.animation(tmp_path / "a.gif")


def test_frames_are_kept_at_their_rate(rook: Robot) -> None:
    world = World(rook, grounds.flat(), seed=1)
    film = Film(world, rate=10.0)
    for _ in range(101):
        film.watch()
        world.advance()
    assert len(film.frames) == 6
