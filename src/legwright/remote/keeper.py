"""Keeps a robot running: starts the control and the service process, and starts them again.

The keeper does nothing else. A first stop signal is passed to the control process, which sits the
robot down and ends; a second one switches off at once, a third one ends what no longer listens.
When the keeper itself is killed, both notice and do the same as after a first signal.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import signal
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from multiprocessing import get_context
from multiprocessing.connection import wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from types import FrameType

import msgspec

from legwright.errors import LegwrightError
from legwright.remote.attendant import ADDRESS, ServiceSettings, attend
from legwright.remote.glance import KEEPER, Glance, unpack_glance
from legwright.rig.choice import rig_of
from legwright.rig.control import CARD, SERVICE, Settings, run_control
from legwright.rig.handover import Mailbox

CALM_DOWN = 0.3
"""Before a process is started again [s]."""
HASTY, MOST = 5.0, 5
"""A process that ended so many times within so many seconds of its start is given up [s]."""
DEAF = 3
"""Signals after which a control process that does not end is killed."""
GRACE = 60.0
"""The robot may take so long to sit down before it is switched off [s]."""


@dataclass(slots=True, eq=False)
class _Child:
    """One process and how often it failed at once."""

    name: str
    ready: str
    """File that it writes once it runs."""
    start: Callable[[], BaseProcess]
    process: BaseProcess
    began: float
    failures: int = 0
    restarts: int = 0


class Keeper:
    """Starts both processes and keeps them."""

    def __init__(
        self,
        control: Settings,
        service: ServiceSettings,
        *,
        tell: Callable[[str], None] = lambda text: None,
        show: Callable[[Glance], None] | None = None,
    ) -> None:
        """Get ready.

        Args:
            control: For the control process; its folder is replaced by a private one.
            service: For the service process; likewise.
            tell: Told what happens, in sentences.
            show: Shown the robot at a glance, a few times a second; None wants none.
        """
        self.folder = Path(tempfile.mkdtemp(prefix="legwright-"))
        own = os.getpid()
        self._control = replace(control, folder=self.folder, parent=own)
        self._service = replace(service, folder=self.folder, parent=own, glance=show is not None)
        self._tell, self._show = tell, show
        self._box = Mailbox(self.folder / KEEPER, self.folder / SERVICE)
        self._signals = 0
        self.children: list[_Child] = []

    @property
    def address(self) -> str:
        """Where the robot listens; empty until it does."""
        path = self.folder / ADDRESS
        return path.read_text(encoding="utf-8") if path.exists() else ""

    def run(self) -> int:
        """Run until a signal and the end of the control process.

        Returns:
            0 where the robot was switched off in order, 2 where a process refused what it was
            told before it ever ran, else 1.
        """
        old = {n: signal.signal(n, self._on_signal) for n in (signal.SIGINT, signal.SIGTERM)}
        try:
            self.start()
            return self._keep()
        finally:
            self.end()
            for number, handler in old.items():
                signal.signal(number, handler)

    def start(self) -> None:
        """Start both processes."""
        context = get_context("spawn")
        for name, ready, target, settings in (
            ("control", CARD, _control_main, self._control),
            ("service", ADDRESS, _service_main, self._service),
        ):

            def start(
                target: Callable[..., None] = target, settings: object = settings, name: str = name
            ) -> BaseProcess:
                process = context.Process(
                    target=target, args=(settings,), name=f"legwright-{name}", daemon=True
                )
                # A terminal's Ctrl-C must not end a process that is being loaded; it inherits this.
                before = signal.signal(signal.SIGINT, signal.SIG_IGN)
                try:
                    process.start()
                finally:
                    signal.signal(signal.SIGINT, before)
                return process

            self.children.append(_Child(name, ready, start, start(), time.monotonic()))

    def _keep(self) -> int:
        """Wait for ends; the control process that ends after a signal ends all."""
        told = False
        while True:
            wait(
                [*(child.process.sentinel for child in self.children), self._box.fileno()],
                timeout=0.25,
            )
            if not told and self.address:
                told = True
                self._tell(f"Listening at {self.address}.")
            self._glance()
            for child in self.children:
                if child.process.is_alive():
                    continue
                child.process.join()
                code = child.process.exitcode
                if child.name == "control" and self._signals:
                    return self._in_order(code)
                if code == REFUSED and not (self.folder / child.ready).exists():
                    return 2
                if not self._again(child, code):
                    return 1

    def _glance(self) -> None:
        """Show the newest glance."""
        waiting = list(self._box.take())
        if waiting and self._show is not None:
            with suppress(msgspec.DecodeError):
                self._show(unpack_glance(waiting[-1]))

    def _in_order(self, code: int | None) -> int:
        """Exit code after a signal: a process that was ended before it had a rig left none on."""
        early = code == -signal.SIGTERM and not (self.folder / CARD).exists()
        return 0 if code == 0 or early else 1

    def _again(self, child: _Child, code: int | None) -> bool:
        """Start a child again, unless it fails at once each time."""
        quick = time.monotonic() - child.began < HASTY
        child.failures = child.failures + 1 if quick else 1
        if child.failures > MOST:
            self._tell(f"The {child.name} process ends again and again. Look at its messages.")
            return False
        how = f"was killed by signal {-code}" if code and code < 0 else f"ended with code {code}"
        self._tell(f"The {child.name} process {how}; it is started again.")
        time.sleep(CALM_DOWN)
        child.process, child.began = child.start(), time.monotonic()
        child.restarts += 1
        return True

    def _on_signal(self, number: int, frame: FrameType | None) -> None:
        del number, frame
        self._signals += 1
        control = self.children[0].process if self.children else None
        if control is not None and control.pid:
            deaf = self._signals >= DEAF
            os.kill(control.pid, signal.SIGKILL if deaf else signal.SIGTERM)

    def end(self) -> None:
        """End both processes, sitting down first, and remove the folder."""
        for child in self.children:
            if child.process.is_alive() and child.process.pid:
                os.kill(child.process.pid, signal.SIGTERM)
        for child in self.children:
            child.process.join(GRACE)
            if child.process.is_alive():
                child.process.kill()
                child.process.join()
        self._box.close()
        shutil.rmtree(self.folder, ignore_errors=True)


REFUSED = 64
"""Exit code of a child whose input makes no sense: starting it again would not help."""


def _control_main(settings: Settings) -> None:
    _named("lw-control")
    _guarded(lambda: run_control(settings, rig_of))


def _service_main(settings: ServiceSettings) -> None:
    _named("lw-service")
    _guarded(lambda: asyncio.run(attend(settings)))


def _guarded(call: Callable[[], None]) -> None:
    """Our own errors end a child with one sentence, not with a traceback."""
    try:
        call()
    except LegwrightError as error:
        os.write(2, f"legwright: {error}\n".encode())
        raise SystemExit(REFUSED) from None


def _named(name: str) -> None:
    """Give this process a name that lists of processes show, where the system has such names."""
    with suppress(OSError):
        Path("/proc/self/comm").write_text(name, encoding="ascii")
