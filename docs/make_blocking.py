"""Write src/legwright/remote/connected_robot.py from async_robot.py.

Run `python docs/make_blocking.py` after a change there; a test shows that it is current.
"""

from __future__ import annotations

import ast
from pathlib import Path

REMOTE = Path(__file__).parent.parent / "src" / "legwright" / "remote"
SOURCE, MADE = REMOTE / "async_robot.py", REMOTE / "connected_robot.py"
HEAD = '''"""A robot to be driven from Python, call by call.

Made from async_robot.py by `python docs/make_blocking.py`: change that file, not this one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import inf
from types import TracebackType
from typing import Literal

from numpy.typing import ArrayLike

from legwright.remote import said
from legwright.remote.async_robot import AsyncLeg, AsyncRobot, Pose
from legwright.remote.seen import Seen, Series, Touch
from legwright.remote.thread_loop import ThreadLoop
'''
ENTER = """
    def __enter__(self) -> ConnectedRobot:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        self.close()
"""


def blocking(source: str) -> str:
    """The blocking module for the asynchronous one."""
    tree = ast.parse(source)
    classes = [node for node in tree.body if isinstance(node, ast.ClassDef)]
    return HEAD + "".join(_class(source, node) for node in classes)


def _class(source: str, node: ast.ClassDef) -> str:
    name = _blocking(node.name)
    text = f"\n\nclass {name}:\n{_docstring(source, node, 4)}\n"
    text += f"    def __init__(self, inner: {node.name}, loop: ThreadLoop) -> None:\n"
    text += "        self._inner, self._loop = inner, loop\n"
    if name == "ConnectedRobot":
        text += ENTER
    for part in node.body:
        if isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef) and part.name[0] != "_":
            text += _method(source, part)
    return text


def _blocking(text: str) -> str:
    return (
        text.replace("AsyncRobot", "ConnectedRobot")
        .replace("AsyncLeg", "ConnectedLeg")
        .replace("AsyncIterator", "Iterator")
        .replace("async with lw.connect_async(…)", "with lw.connect(…)")
    )


def _docstring(
    source: str, node: ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef, indent: int
) -> str:
    first = node.body[0]
    found = ast.get_source_segment(source, first)
    return f"{' ' * indent}{_blocking(found or '')}\n"


def _method(source: str, node: ast.FunctionDef | ast.AsyncFunctionDef) -> str:
    returns = ast.unparse(node.returns) if node.returns else "None"
    text = "\n"
    decorators = [ast.unparse(d) for d in node.decorator_list]
    text += "".join(f"    @{d}\n" for d in decorators)
    arguments = _blocking(ast.unparse(node.args))
    text += f"    def {node.name}({arguments}) -> {_blocking(returns)}:\n"
    text += _docstring(source, node, 8)
    names = [a.arg for a in node.args.args[1:]] + [f"{a.arg}={a.arg}" for a in node.args.kwonlyargs]
    call = f"self._inner.{node.name}({', '.join(names)})"
    if "property" in decorators:
        return text + f"        return self._inner.{node.name}\n"
    if "AsyncLeg" in returns:
        return text + f"        return ConnectedLeg({call}, self._loop)\n"
    if "AsyncIterator" in returns:
        return text + f"        return self._loop.iterate({call})\n"
    if node.name == "close":
        return (
            text
            + f"        try:\n            self._loop.run({call})\n"
            + "        finally:\n            self._loop.end()\n"
        )
    give = "" if returns == "None" else "return "
    return text + f"        {give}self._loop.run({call})\n"


def formatted(text: str) -> str:
    """The text as the formatter wants it."""
    import subprocess
    import sys

    done = subprocess.run(
        [sys.executable, "-m", "ruff", "format", "--stdin-filename", str(MADE), "-"],
        input=text, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout


if __name__ == "__main__":
    made = formatted(blocking(SOURCE.read_text(encoding="utf-8")))
    MADE.write_text(made, encoding="utf-8")
    print(MADE)
