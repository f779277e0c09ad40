"""Memory that is free goes back to the system once a piece of work is done.

A verdict takes tens of megabytes for a while, in pieces of many sizes. The C library keeps what
is freed of them between pieces that live on, and finds room for the next verdict at its end: the
process grows with every edit, though it uses no more.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache


def tidy() -> None:
    """Give free memory back; nothing where the C library has no such call."""
    _trim()(0)


@cache
def _trim() -> Callable[[int], object]:
    """`malloc_trim` of the GNU C library."""
    try:
        trim = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return lambda _: None
    trim.argtypes, trim.restype = [ctypes.c_size_t], ctypes.c_int
    return trim
