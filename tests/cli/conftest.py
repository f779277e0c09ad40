"""The command line as a person meets it: arguments in; exit code, words and files out."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from legwright.cli.main import run

TESTS = Path(__file__).parents[1]
ROBOTS = TESTS.parent / "robots"

if str(TESTS / "robot") not in sys.path:  # the broken tables live beside the reader's own tests
    sys.path.append(str(TESTS / "robot"))


@dataclass(frozen=True)
class Done:
    """What a command left behind."""

    code: int
    out: str
    err: str


Command = Callable[..., Done]


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """``command("check", folder)``: run the entry point in this process."""

    def call(*words: object) -> Done:
        argv: Sequence[str] = ["legwright", *map(str, words)]
        monkeypatch.setattr(sys, "argv", argv)
        capsys.readouterr()
        with pytest.raises(SystemExit) as left:
            run()
        said = capsys.readouterr()
        code = left.value.code
        return Done(code=0 if code is None else int(code), out=said.out, err=said.err)

    return call


@pytest.fixture
def robots() -> Path:
    return ROBOTS
