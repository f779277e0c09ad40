"""How functions inside compiled kernels are compiled: once, with no way in from Python.

A kernel that Python calls is an ``njit(cache=True)`` function. What only kernels call is
`within`: the compiler then builds no entry from Python and no file for it, a fifth of the time.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from numba.extending import register_jitable

P = ParamSpec("P")
T = TypeVar("T")


def within(function: Callable[P, T]) -> Callable[P, T]:
    """A function for kernels to call; called from Python it runs uncompiled.

    Args:
        function: Within the compiled part of the language.

    Returns:
        The same function.
    """
    register_jitable(function)
    return function
