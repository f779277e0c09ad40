"""The kernels of a check, compiled on two cores at once where they do not lie on disk yet.

Compiling holds a lock of its process, so that half of it is done by another:

    python -m legwright.study.kernels
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext, suppress
from importlib import import_module
from typing import Any, NamedTuple

from numba import types
from numba.core.errors import NumbaError

from legwright.kernel import on_disk
from legwright.mechanics._recursion import Packed
from legwright.mechanics._servo import Drives
from legwright.mechanics.screws import Screws
from legwright.study._cycle import Course, Limbs, Samples, Terms

Progress = Callable[[str, int, int], None]

LONG = 8.0
"""Compiling that a second process is started for [s]: it needs two to begin."""

_NUMBERS = {"f": types.float64, "i": types.int64, "b": types.boolean}
_TUPLES = {
    "screws": (Screws, "f2 f2 b1 f2 f1 f1"),
    "packed": (Packed, "i1 i1 f3 f2 b1 f2 f1 f1 f2 f3 f2 f1"),
    "drives": (Drives, "f1 f1 f1 b1 f1 f1 f1 f1 f1 f1 f1 f1 f1 f1"),
    "limbs": (Limbs, "f2 f2 f1 f1"),
    "samples": (Samples, "f1 f2 b2"),
    "course": (Course, "samples f*3 f*3 f2 f2 f1 f3 f*3"),
    "terms": (Terms, "f1 f1 f f f f f"),
}


class Kernel(NamedTuple):
    """A kernel as a check calls it."""

    module: str
    name: str
    takes: str
    """``f2``: array of two axes; ``f``: number; ``f*3``: three; ``f1!``: array not writable."""
    seconds: float
    """Of compiling, on a core that other work shares; only their ratios matter."""

    @property
    def function(self) -> Any:
        """The compiled function."""
        return getattr(import_module(f"legwright.{self.module}"), self.name)

    @property
    def signature(self) -> tuple[Any, ...]:
        """What it takes, in the compiler's types."""
        return tuple(map(_type, self.takes.split()))

    @property
    def on_disk(self) -> bool:
        """Whether it lies compiled on disk, no older than its source."""
        return on_disk(self.function)


HERE = (
    Kernel("mechanics._knee", "reach", "f2 f3 f3 f3 f2 f", 4.6),
    Kernel("mechanics._cones", "distribution", "f3 f3 f2 f1 b2", 3.0),
    Kernel("mechanics._polygon", "stance_margins", "f3 f2 f2 b2", 1.5),
    Kernel("mechanics._weighed", "weighed", "packed f2*6 f1 b2 f1 f3 b", 8.0),
    Kernel("mechanics._serial", "feet", "screws f2 f2", 0.3),
    Kernel("locomotion._feet", "cycle_path", "f2 f*3 f2 f*3 f2 f1 f3 f3 f3", 0.8),
    Kernel("study._cycle", "weigh", "limbs packed f2 course terms f*4 f1 f1", 6.6),
)
"""What the process that asks compiles itself: what `weighed` and `weigh` call goes before them."""

BESIDE = (
    Kernel("mechanics._knee", "least_reserve", "f1 f2 f2 f", 1.0),
    Kernel("mechanics._knee", "inside", "f1 f2 b1", 0.6),
    Kernel("mechanics._knee", "shared", "f1 f2! f1 f", 0.4),
    Kernel("locomotion._rates", "rates", "screws i i f2 f3 f3 f2 f2", 2.9),
    Kernel("locomotion._feet", "body_path", "f1 f1 f*3 f1 f2", 0.3),
    Kernel("mechanics._zonotope", "merged", "f2 f f2", 0.5),
    Kernel("locomotion._lobe", "lobe", "f2 f f f f i f1", 0.3),
    Kernel(
        "electrics._sweep", "solve_samples",
        "i1 f2 f1 f1 f1 i1 i1 f1 i1 f2 f2 f2 f2 f2 b1 f3 i2", 2.4,
    ),
    Kernel("mechanics._draw", "drawn", "drives f1 f2 f2 f2 f f1 b f3 f2", 1.5),
    Kernel("mechanics._draw", "windings", "drives f2 f2 f2 f2", 0.3),
    Kernel("mechanics._zonotope", "longest", "f2 f", 0.7),
    Kernel("mechanics._riding", "ridden", "packed f2 i1 f3 f2 f3 f3", 1.0),
    Kernel("mechanics._riding", "lowest", "f3 f3 f2 i1 f2 i1 f2 f2", 0.7),
    Kernel("mechanics._built", "foot_arms", "i1 i1 f2 f2 f2 f2 b1 f1 f2 f3 f2", 1.5),
    Kernel("mechanics._built", "built_feet", "i1 i1 f2 f2 f2 f2 b1 f1 f2 f2! f1 f1 f1 f2 f1", 1.2),
    Kernel("mechanics._built", "stood", "f3 b2 f2 f4 i2! f f b f2 f2 f2", 0.8),
    Kernel("mechanics._bounds", "closest", "f3 i2 f1 i", 0.3),
    Kernel("mechanics._bounds", "near", "f3 f3 i2 f1 f2 f1 f2 f2 f", 1.2),
    Kernel("fabrication._way_kernel", "chained", "f2 f2 f3", 1.4),
    Kernel("fabrication._swept_kernel", "near_points", "f2! f3 f1 f1 f2! f", 0.5),
    Kernel("fabrication._swept_kernel", "reaching", "f3 f3 f2! f", 0.4),
    Kernel("fabrication._ray_kernel", "first_hits", "f2 f2 f3 i1 f2 f2 i1 i f1 i1", 1.1),
    Kernel(
        "fabrication._least_gap_kernel", "least_gaps",
        "f2 f2 f3 i f1! f f2! f3 f3 i i1 f f i f1 i2", 5.2,
    ),
    Kernel(
        "fabrication._least_gap_kernel", "least_over_ranges",
        "f2 f2 f3 i f1! f f2! f2! f2! f f2 f1! f1! f f i f1", 2.4,
    ),
)  # fmt: skip
"""What the other process compiles."""


def ready(tell: Progress) -> None:
    """Compile what does not lie on disk; returns at once where all does.

    Args:
        tell: Told what is being done, how many are done, of how many.
    """
    mine, others = _missing(HERE), _missing(BESIDE)
    shared = sum(kernel.seconds for kernel in others) > LONG
    count = len(mine) + len(others)
    with _beside() if shared else nullcontext():
        for done, kernel in enumerate(mine if shared else (*mine, *others)):
            tell("kernels, compiled once", done, count)
            _compile(kernel)
        if shared:
            tell("kernels, compiled once", len(mine), count)


def _missing(kernels: Sequence[Kernel]) -> list[Kernel]:
    return [kernel for kernel in kernels if not kernel.on_disk]


def _compile(kernel: Kernel) -> None:
    with suppress(NumbaError, OSError):  # whoever calls it is told better what is wrong
        kernel.function.compile(kernel.signature)


@contextmanager
def _beside() -> Iterator[None]:
    """The other process, waited for at the end and ended with this one."""
    quiet = subprocess.DEVNULL
    command = [sys.executable, "-m", "legwright.study.kernels"]
    try:
        other = subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet)
    except OSError:  # no second process to be had: the rest is compiled where it is called
        yield
        return
    try:
        yield
        other.wait()
    finally:
        other.kill()
        other.wait()


def _type(word: str) -> Any:
    if word in _TUPLES:
        kind, takes = _TUPLES[word]
        return types.NamedTuple(list(map(_type, takes.split())), kind)
    number = _NUMBERS[word[0]]
    if "*" in word:
        one, count = word.split("*")
        return types.UniTuple(_type(one), int(count))
    if len(word) == 1:
        return number
    return types.Array(number, int(word[1]), "C", readonly=word.endswith("!"))


if __name__ == "__main__":
    for kernel in _missing(BESIDE):
        _compile(kernel)
