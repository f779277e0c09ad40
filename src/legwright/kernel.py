"""How kernels are compiled, and kept on disk until a source changes that they are made of.

What Python calls is a `kernel`. What only kernels call is `within`: the compiler then builds no
entry from Python and no file for it, a fifth of the time.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import numba
from numba import njit
from numba.core.caching import FunctionCache, IndexDataCacheFile
from numba.extending import register_jitable

P = ParamSpec("P")
T = TypeVar("T")

PACKAGE = Path(__file__).parent
IMPORTS = re.compile(r"^from legwright\.?([\w.]*) import (\([^)]*\)|[^\n(]*)", re.MULTILINE)
"""Import lines of a source: module below the package, and what is taken from it."""


def within(function: Callable[P, T]) -> Callable[P, T]:
    """A function for kernels to call; called from Python it runs uncompiled.

    Args:
        function: Within the compiled part of the language.

    Returns:
        The same function.
    """
    register_jitable(function)
    return function


def placed(function: Callable[P, T]) -> Callable[P, T]:
    """As `within`, put in place where it is called, however long it is.

    So the compiler sees what it is given, such as the length of rows; called from many places it
    is compiled as many times.

    Args:
        function: Within the compiled part of the language.

    Returns:
        The same function.
    """
    register_jitable(forceinline=True)(function)
    return function


def kernel(function: Callable[..., Any]) -> Any:
    """A function that Python calls compiled.

    The compiler's own cache looks at the function's file alone, and would go on with what it
    made of other files before they changed.

    Args:
        function: Within the compiled part of the language.

    Returns:
        The compiled function.
    """
    made = njit(function)
    made._cache = _Kept(function)  # the compiler offers no hook of its own
    return made


def on_disk(function: Any) -> bool:
    """Whether a kernel lies compiled on disk, made of the sources as they are now.

    Args:
        function: The kernel.
    """
    return bool(function._cache._cache_file._load_index())


class _Index(IndexDataCacheFile):  # type: ignore[misc]
    """Of a kernel's files; it is stale where a source of the kernel has changed."""

    source: Path

    def _load_index(self) -> Any:
        stamps = [_digest(file, file.stat().st_mtime_ns) for file in sources(self.source)]
        made_of = hashlib.sha256(b"".join(stamps)).hexdigest()
        # compared before the rest is read, which may speak of classes that are there no more
        self._version = f"{numba.__version__} {made_of}"
        self._source_stamp = made_of
        return super()._load_index()


class _Kept(FunctionCache):  # type: ignore[misc]
    """The files of one kernel."""

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)
        index = _Index(self._cache_path, self._impl.filename_base, b"")
        index.source = Path(function.__code__.co_filename)
        self._cache_file = index


@cache
def _digest(file: Path, time: int) -> bytes:
    del time
    return hashlib.sha256(file.read_bytes()).digest()


@cache
def sources(file: Path) -> tuple[Path, ...]:
    """The sources that kernels of a file are made of: its own and, in turn, what it imports.

    Modules that only give it classes, which are no part of kernels, are left out.

    Args:
        file: A module of this package.
    """
    found, waiting = {file}, [file]
    while waiting:
        new = _imported(waiting.pop()) - found
        found |= new
        waiting += new
    return tuple(sorted(found))


def _imported(file: Path) -> set[Path]:
    if not (file.name.startswith("_") or file == Path(__file__)):
        return set()  # it gives constants
    found = set()
    for module, taken in IMPORTS.findall(file.read_text(encoding="utf-8")):
        place = PACKAGE.joinpath(*module.split("."))
        names = [part.split()[0] for part in taken.strip("()").split(",") if part.strip()]
        if place.is_dir():
            found |= {place / f"{name}.py" for name in names}
        elif place.name.startswith("_") or any(n.isupper() or n.islower() for n in names):
            found.add(place.with_suffix(".py"))
    return {file for file in found if file.exists()}


@within
def copy(into: Any, source: Any) -> None:
    """Copy an array of one axis onto another: ``into[:] = source``.

    Where the compiler sees ``[:] =`` it also compiles the words of an error about shapes, which
    takes as long as a whole kernel.

    Args:
        into: (n,), written.
        source: (n,).
    """
    for k in range(len(source)):
        into[k] = source[k]


@within
def fill(into: Any, value: Any) -> None:
    """Set all of an array of one axis: ``into[:] = value``.

    Args:
        into: (n,), written.
        value: A number.
    """
    for k in range(len(into)):
        into[k] = value
