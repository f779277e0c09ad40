"""Rigs by their text.

``sim``, ``can:virtual``, ``can:socketcan:can0,can1``, ``replay:FILE``, or a plug-in's name.

Plug-ins register under the entry-point group ``legwright.rigs``; `docs/rig-plugin.md` has the
template.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from importlib.metadata import entry_points
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, cast

from legwright.errors import LegwrightError, RequestError, RigError, did_you_mean
from legwright.rig.port import Rig
from legwright.robot.robot import Robot

if TYPE_CHECKING:
    from legwright.rig.can.bench import CanBench
    from legwright.rig.can.wire import Wire

GROUP = "legwright.rigs"
"""Entry points of plug-ins."""
NOTHING: Mapping[str, str] = MappingProxyType({})
_TRUE, _FALSE = ("yes", "true", "on", "1"), ("no", "false", "off", "0")

Opener = Callable[[Robot, str, Mapping[str, str]], Rig]
"""What a plug-in gives: robot, the text after its name and colon, options -> an open rig."""


def rig_of(text: str, robot: Robot, options: Mapping[str, str] = NOTHING) -> Rig:
    """Open a rig.

    Args:
        text: Name, and after a colon what belongs to it:

            - ``sim`` or ``sim:GROUND``: the physics world;
            - ``can:virtual``: simulated CiA 402 drives, the physics world behind them;
            - ``can:ADAPTER:BUS,BUS``: drives on an adapter of python-can, one bus or several;
            - ``replay:FILE``: a recording, to look at;
            - ``NAME:REST``: a plug-in.
        robot: The robot.
        options: ``ground``, ``seed``, ``rate`` [Hz], ``physics`` (yes or no), ``log`` (a file for
            the traffic of CAN buses); a plug-in takes its own.

    Returns:
        An open rig, power off.

    Raises:
        RequestError: if the text or an option is not understood.
        RigError: if the rig cannot be opened.
    """
    name, _, rest = text.partition(":")
    own: dict[str, Opener] = {"sim": _simulated, "can": _can, "replay": _replayed}
    if name in own:
        return own[name](robot, rest, options)
    found = {point.name: point for point in entry_points(group=GROUP)}
    if name not in found:
        known = did_you_mean(name, (*own, *found))
        raise RequestError("rig", text, f"like sim, can:virtual or replay:FILE. {known}")
    try:
        return cast(Opener, found[name].load())(robot, rest, options)
    except LegwrightError:
        raise
    except Exception as error:
        who = f"Rig plug-in '{name}' ({found[name].value})"
        raise RigError(f"{who} failed: {type(error).__name__}: {error}. Ask its maker.") from error


def check_rig(text: str) -> None:
    """Look whether a rig's name is known, without opening it.

    Raises:
        RequestError: if it is not.
    """
    name, known = text.partition(":")[0], known_rigs()
    if name not in known:
        cure = did_you_mean(name, known)
        raise RequestError("rig", text, f"like sim, can:virtual or replay:FILE. {cure}")


def known_rigs() -> tuple[str, ...]:
    """Names that `rig_of` understands, plug-ins included."""
    return ("sim", "can", "replay", *(point.name for point in entry_points(group=GROUP)))


def _simulated(robot: Robot, rest: str, options: Mapping[str, str]) -> Rig:
    from legwright.rig.simulated import Simulated

    _known(options, "ground", "seed", "rate")
    ground = rest or options.get("ground", "flat")
    return Simulated(robot, ground=ground, seed=_seed(options), rate=_rate(options))


def _can(robot: Robot, rest: str, options: Mapping[str, str]) -> Rig:
    interface, _, channels = rest.partition(":")
    names = tuple(name.strip() for name in channels.split(",") if name.strip())
    if interface == "virtual" and not names:
        from legwright.rig.can.virtual import VirtualCan

        _known(options, "ground", "seed", "rate", "physics", "log")
        return VirtualCan(
            robot,
            ground=options.get("ground", "flat"),
            seed=_seed(options),
            rate=_rate(options),
            physics=_yes("physics", options.get("physics", "yes")),
            log=Path(options["log"]) if "log" in options else None,
        )
    from legwright.rig.can.rig import CanRig

    _known(options, "rate", "log")
    wires = _wires(robot, interface, names)
    if "log" in options:
        from legwright.rig.can.candump import logged

        wires = logged(wires, Path(options["log"]), time.monotonic)
    return CanRig(robot, wires, rate=_rate(options))


def bench_on(text: str, robot: Robot) -> CanBench:
    """Drives on a bench, by node, for bring-up.

    Args:
        text: Like ``can:socketcan:can0,can1``.
        robot: The robot.

    Raises:
        RequestError: if the text is not understood.
        RigError: if no drive answers.
    """
    from legwright.rig.can.bench import CanBench

    name, _, rest = text.partition(":")
    if name != "can":
        raise RequestError("rig", text, "sim, can:virtual, or like can:socketcan:can0,can1")
    interface, _, channels = rest.partition(":")
    names = tuple(one.strip() for one in channels.split(",") if one.strip())
    return CanBench(robot, _wires(robot, interface, names))


def _wires(robot: Robot, interface: str, channels: tuple[str, ...]) -> tuple[Wire, ...]:
    from legwright.rig.can.wire import open_wires

    if not interface or not channels:
        text = f"can:{interface}".rstrip(":")
        raise RequestError("rig", text, "can:virtual, or like can:socketcan:can0,can1")
    bus = robot.sheet.bus
    if bus is None or bus.kind != "can":
        raise RigError(
            f'The sheet of {robot.name} describes no CAN bus. Write [bus] with kind = "can" '
            "and the node ids, or use can:virtual."
        )
    return open_wires(interface, channels, round(bus.bit_rate))


def _replayed(robot: Robot, rest: str, options: Mapping[str, str]) -> Rig:
    from legwright.rig.replayed import Replayed

    _known(options)
    if not rest:
        raise RequestError("rig", "replay:", "like replay:runs/walk.mcap")
    return Replayed(robot, rest)


def _known(options: Mapping[str, str], *names: str) -> None:
    for name in options:
        if name not in names:
            known = did_you_mean(name, names) if names else "It takes none."
            raise RequestError("option of the rig", name, f"one that it knows. {known}")


def _seed(options: Mapping[str, str]) -> int:
    text = options.get("seed", "0")
    if not text.isdecimal():
        raise RequestError("option seed", text, "a whole number, 0 or more")
    return int(text)


def _rate(options: Mapping[str, str]) -> float | None:
    text = options.get("rate")
    if text is None:
        return None
    try:
        rate = float(text)
    except ValueError:
        rate = float("nan")
    if not 1.0 <= rate <= 1000.0:
        raise RequestError("option rate", text, "from 1 to 1000 Hz")
    return rate


def _yes(name: str, text: str) -> bool:
    if text.lower() not in (*_TRUE, *_FALSE):
        raise RequestError(f"option {name}", text, "yes or no")
    return text.lower() in _TRUE
