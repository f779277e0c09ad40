"""The robot on the desk: a simulated one, started when it is asked for, or one that is relayed."""

from __future__ import annotations

import asyncio
import multiprocessing
import shutil
import tempfile
from collections.abc import Awaitable, Callable, Mapping
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Literal

from starlette.routing import BaseRoute, WebSocketRoute
from starlette.websockets import WebSocket

from legwright.errors import RequestError, did_you_mean
from legwright.rig.ground_choice import NAMES
from legwright.rig.hand.mapping import ASSUMED_SPEED, ASSUMED_TURN
from legwright.robot.robot import Robot
from legwright.views.desk import asked
from legwright.views.desk.asked import Asked
from legwright.views.desk.drive_relay import LATER, checked_address, relay
from legwright.views.desk.drive_worker import Failed, Ready, Record, Simulation, work
from legwright.views.desk.pages import Page
from legwright.views.desk.said import Hand, RobotState
from legwright.views.desk.walking import Host

LEAVING = 3.0
"""How long the simulated robot may take to end before it is killed [s]."""
LAST_SEED = 2**31
Hearer = Callable[[Page, Asked], Awaitable[None]]
State = Literal["none", "starting", "simulated", "relayed"]


class DriveWing:
    """Question 5: one robot for all pages; who drives is the robot's own affair."""

    def __init__(
        self, host: Host, *, robot: str | None = None, authority: Path | None = None,
        recordings: Path | None = None,
    ) -> None:  # fmt: skip
        """Get ready; nothing runs yet.

        Args:
            host: The desk.
            robot: Address of a robot's program that is relayed from the start.
            authority: File of the certificate that signed the robot's.
            recordings: Where the simulated robot is recorded; a passing folder when None.

        Raises:
            RequestError: for an address that makes no sense.
        """
        self._host, self._authority = host, authority
        self._passing = Path(tempfile.mkdtemp(prefix="legwright-desk-"))
        self._folder = recordings or self._passing
        self._address = "" if robot is None else checked_address(robot)
        self._state: State = "none" if robot is None else "relayed"
        self._text = ""
        self._process: BaseProcess | None = None
        self._line: Connection | None = None
        self._leaving: set[asyncio.Task[None]] = set()
        self._open: dict[WebSocket, asyncio.Event] = {}
        self.routes: tuple[BaseRoute, ...] = (WebSocketRoute("/robot", self._relay),)
        self.hearers: Mapping[type[Asked], Hearer] = {
            asked.RobotStart: self._start,
            asked.RobotConnect: self._connect,
            asked.RobotRecord: self._record,
            asked.RobotEnd: self._end,
        }

    # Life -----------------------------------------------------------------------------------

    async def start(self) -> None:
        """The loop runs."""
        self._tell()

    async def close(self) -> None:
        """End the simulated robot."""
        task = self._clear()
        if task is not None:
            await task
        shutil.rmtree(self._passing, ignore_errors=True)

    # What pages ask -------------------------------------------------------------------------

    async def _start(self, page: Page, message: Asked) -> None:
        if not isinstance(message, asked.RobotStart):
            return
        if message.ground not in NAMES:
            allowed = f"a known ground. {did_you_mean(message.ground, NAMES)}"
            raise RequestError("ground", message.ground, allowed)
        if not 0 <= message.seed <= LAST_SEED:
            raise RequestError("seed", message.seed, f"a whole number from 0 to {LAST_SEED}")
        self._clear()
        simulation = Simulation(
            robot=self._host.session.robot, ground=message.ground, seed=message.seed,
            folder=self._folder,
        )  # fmt: skip
        context = multiprocessing.get_context("spawn")
        self._line, far = context.Pipe()
        self._process = context.Process(
            target=work, args=(far, simulation), name="robot", daemon=True
        )
        self._process.start()
        far.close()
        asyncio.get_running_loop().add_reader(self._line.fileno(), self._read)
        self._become("starting", "")

    async def _connect(self, page: Page, message: Asked) -> None:
        if isinstance(message, asked.RobotConnect):
            address = checked_address(message.address)
            self._clear()
            self._become("relayed", address)

    async def _record(self, page: Page, message: Asked) -> None:
        if not isinstance(message, asked.RobotRecord):
            return
        if self._state != "simulated" or self._line is None:
            raise RequestError(
                "recording", "a switch", "for the simulated robot: a robot's program always records"
            )
        self._line.send(Record(on=message.on))

    async def _end(self, page: Page, message: Asked) -> None:
        self._clear()
        self._become("none", "")

    # The robot ------------------------------------------------------------------------------

    def _read(self) -> None:
        try:
            while self._line is not None and self._line.poll():
                told = self._line.recv()
                if isinstance(told, Ready):
                    self._become("simulated", told.address)
                elif isinstance(told, Failed):
                    self._lost(told.text)
        except (EOFError, OSError):
            self._lost("The simulated robot ended unasked. Start it again.")

    def _lost(self, text: str) -> None:
        self._part()
        self._become("none", "", text)

    def _part(self) -> None:
        """Let go of the line: that ends the simulated robot."""
        if self._line is not None:
            asyncio.get_running_loop().remove_reader(self._line.fileno())
            self._line.close()
            self._line = None

    def _clear(self) -> asyncio.Task[None] | None:
        """End whatever there is, and send the pages' connections away.

        Returns:
            What waits for the end of the simulated robot, if there was one.
        """
        self._part()
        for gone in self._open.values():
            gone.set()
        process, self._process = self._process, None
        if process is None:
            return None
        task = asyncio.create_task(_ended(process))
        self._leaving.add(task)
        task.add_done_callback(self._leaving.discard)
        return task

    async def _relay(self, page: WebSocket) -> None:
        await page.accept()
        if self._state not in ("simulated", "relayed"):
            await page.close(LATER, "no robot is connected")
            return
        gone = self._open[page] = asyncio.Event()
        passing = asyncio.create_task(relay(page, self._address, self._authority))
        leaving = asyncio.create_task(gone.wait())
        try:
            await asyncio.wait({passing, leaving}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            self._open.pop(page, None)
            leaving.cancel()
            passing.cancel()
            await asyncio.gather(passing, leaving, return_exceptions=True)

    # What pages are told --------------------------------------------------------------------

    def _become(self, state: State, address: str, text: str = "") -> None:
        self._state, self._address, self._text = state, address, text
        self._tell()

    def _tell(self) -> None:
        shown = self._address if self._state == "relayed" else ""
        told = RobotState(
            state=self._state, address=shown, text=self._text,
            hand=hand_of(self._host.session.robot),
        )  # fmt: skip
        self._host.say("robot", told)


async def _ended(process: BaseProcess) -> None:
    await asyncio.to_thread(process.join, LEAVING)
    if process.is_alive():
        process.kill()


def hand_of(robot: Robot) -> Hand:
    """What a game controller does, as the sheet says."""
    pad, wanted = robot.sheet.pad, robot.sheet.requirements
    return Hand(
        forward=pad.forward,
        sideways=pad.sideways,
        turn=pad.turn,
        forward_reversed=pad.forward_reversed,
        deadman=pad.deadman,
        stop=pad.stop,
        power=pad.power,
        stand=pad.stand,
        sit=pad.sit,
        next_gait=pad.next_gait,
        dead_zone=pad.dead_zone,
        expo=pad.expo,
        full=(
            pad.speed_forward or wanted.speed_forward or ASSUMED_SPEED,
            pad.speed_sideways or wanted.speed_sideways or ASSUMED_SPEED,
            pad.turn_rate or wanted.turn_rate or ASSUMED_TURN,
        ),
        gaits=tuple(wanted.gaits),
    )
