"""The robot's lights: from reports to colours, on its strip where it has one."""

from __future__ import annotations

import numpy as np

from legwright.errors import RigError
from legwright.mechanics.drive import drives_of
from legwright.rig.faults import RULES, Recovery
from legwright.rig.lights.shown import Calmer, Pattern, Scene, shown
from legwright.rig.lights.strip import Strip
from legwright.rig.runtime import Report
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class Lamps:
    """The robot's lights, where it has any."""

    def __init__(self, robot: Robot, pattern: Pattern) -> None:
        """Open the strip; a strip that is not there is told once and left alone."""
        lights = robot.sheet.lights
        self.count = 0 if lights is None else lights.count
        self._pattern, self.problem = pattern, ""
        self.colours: Floats = np.zeros((0, 3))
        """(N, 3) as they are, linear light."""
        self._strip: Strip | None = None
        self._calmer = Calmer(max(self.count, 1))
        self._columns = [robot.columns[name] for name in robot.legs]
        self._stall = np.asarray(drives_of(robot).stall_torque)
        self._gain = np.asarray(drives_of(robot).torque_constant)
        if lights is not None and lights.device:
            try:
                self._strip = Strip(lights.device, brightness=lights.brightness)
            except RigError as error:
                self.problem = str(error)

    def show(self, report: Report, time: float) -> Floats | None:
        """Show a report.

        Returns:
            The colours, (N, 3) in linear light, where they changed.
        """
        if self.count == 0:
            return None
        share = np.nan_to_num(np.abs(self._gain * report.sensed.current) / self._stall)
        act = any(RULES[fault].recovery is not Recovery.ITSELF for fault in report.faults)
        scene = Scene(
            mode=report.mode,
            warning=bool(report.faults),
            act=act,
            contact=report.contact,
            strain=np.array([share[columns].max() for columns in self._columns]),
        )
        colours = self._calmer.calm(shown(scene, self._pattern, time, self.count), time)
        if np.array_equal(colours, self.colours):
            return None
        self.colours = colours
        if self._strip is not None:
            self._strip.show(colours)
        return colours
