"""The recorder that is always on: files of bounded size in a folder of bounded size.

What is written is with the operating system within `HANDED_OVER`, so that a killed recorder loses
no more than that; a file that was cut off so can be read, and `legwright logs repair` makes it
whole.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from legwright.errors import RequestError
from legwright.rig.recorder import Recorder
from legwright.rig.runtime import Report
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

HANDED_OVER = 0.15
"""What is older than this survives a kill [s]."""
FILE_SIZE = 32 << 20
"""A file is closed at this size and the next one begun [B]."""
FILE_TIME = 180.0
"""Or after so long [s]: a file's index stays in memory, 0.3 MB a minute, until it is closed."""
FOLDER_SIZE = 2 << 30
"""Of all recordings of a robot; the oldest go first [B]."""
FREE = 200 << 20
"""So much must stay free on the disk [B]."""
LOOK = 2.0
"""How often the disk is looked at [s]."""
SLOW_EVERY = 10
"""Drives' temperatures and states are kept every so many cycles."""


def made_folder(folder: Path) -> Path:
    """A folder for recordings, made where it is missing.

    Raises:
        RequestError: if it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RequestError("log folder", str(folder), "a folder that can be made") from error
    return folder


class Logbook:
    """Writes every report of a running robot."""

    def __init__(
        self,
        folder: Path | str,
        robot: Robot,
        *,
        rate: float,
        notes: tuple[str, ...] = (),
        file_size: int = FILE_SIZE,
        folder_size: int = FOLDER_SIZE,
        wall: Callable[[], float] = time.time,
        free: Callable[[Path], int] = lambda folder: shutil.disk_usage(folder).free,
    ) -> None:
        """Begin; the first file is opened with the first report.

        Args:
            folder: Where the files go; made where it is missing.
            robot: The robot.
            rate: Cycles per second [Hz].
            notes: What is assumed.
            file_size: [B]
            folder_size: [B]
            wall: The wall clock.
            free: Free bytes of the disk that holds a folder.

        Raises:
            RequestError: if the folder cannot be made.
        """
        self.folder = made_folder(Path(folder))
        self._robot, self._rate, self._notes = robot, rate, notes
        self._file_size, self._folder_size = file_size, folder_size
        self._wall, self._free = wall, free
        self._recorder: Recorder | None = None
        self._start = self._looked = 0.0
        self._cycle = 0
        self.full = False
        """Whether there is no room left; what comes is not written until there is."""

    def report(self, report: Report) -> None:
        """Write one cycle; a disk that is full never raises, it is told by `full`."""
        if report.time - self._looked >= LOOK or self._looked == 0.0:
            self._looked = report.time
            self.full = self._free(self.folder) < FREE
        if self.full:
            self.close()
            return
        try:
            self._write(report)
        except OSError:
            self.full = True
            self._recorder = None

    def notice(self, steady: float, word: str, text: str) -> None:
        """Write what no report holds, such as a sign-in."""
        if self._recorder is not None and not self.full:
            at = max(0.0, steady - self._start)
            self._recorder.put("/notice", at, {"word": word, "text": text})
            self._recorder.hand_over(at)

    def lights(self, steady: float, colours: Floats) -> None:
        """Write what the lights began to show, (N, 3) in linear light."""
        if self._recorder is not None and not self.full:
            at = max(0.0, steady - self._start)
            self._recorder.put("/lights", at, {"colours": colours})

    def close(self) -> None:
        """Close the file; the next report opens another."""
        if self._recorder is not None:
            try:
                self._recorder.close()
            except OSError:
                self.full = True
            self._recorder = None

    def _write(self, report: Report) -> None:
        recorder = self._recorder or self._open(report.time)
        at, grave = report.time - self._start, False
        recorder.sensed(at, report.sensed)
        recorder.targets(at, report.targets)
        recorder.put(
            "/felt",
            at,
            {
                "contact": report.contact,
                "force": report.force,
                "margin": report.margin,
                "place": report.place,
            },
        )
        if self._cycle % SLOW_EVERY == 0 or report.notices:
            drives = report.drives
            values = {"powered": drives.powered, "fault": drives.fault, "winding": drives.winding}
            recorder.put("/drives", at, values)
            faults = [fault.value for fault in report.faults]
            state = {"mode": report.mode.value, "faults": faults, "wall": self._wall()}
            recorder.put("/state", at, state)
        for notice in report.notices:
            recorder.put("/notice", at, {"word": notice.word, "text": notice.text})
            grave = True
        for event in report.events:
            recorder.event(at, event)
        if grave:
            recorder.hand_over(at)
        self._cycle += 1
        if recorder.size > self._file_size or at > FILE_TIME:
            self.close()

    def _open(self, now: float) -> Recorder:
        self._make_room()
        stamp = datetime.fromtimestamp(self._wall(), UTC).strftime("%Y%m%dT%H%M%S")
        path, count = self.folder / f"{self._robot.name}-{stamp}.mcap", 1
        while path.exists():
            path = self.folder / f"{self._robot.name}-{stamp}-{count}.mcap"
            count += 1
        self._start, self._cycle = now, 0
        self._recorder = Recorder(
            path, self._robot, rate=self._rate, notes=self._notes, handed_over=HANDED_OVER
        )
        return self._recorder

    def _make_room(self) -> None:
        """Remove the oldest files until a new one fits."""
        files = sorted(
            self.folder.glob("*.mcap"), key=lambda path: (path.stat().st_mtime_ns, path.name)
        )
        held = sum(path.stat().st_size for path in files)
        for path in files:
            if held + self._file_size <= self._folder_size:
                return
            held -= path.stat().st_size
            path.unlink()
