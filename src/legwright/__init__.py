"""From one robot folder: will this walking robot stand, walk, keep cool and fit together?

The front door; everything else is reached through these names. Nothing heavy is imported
until one of them is used. The tool advises; it does not certify.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from legwright.errors import LegwrightError, LinkError, RequestError, RobotError

if TYPE_CHECKING:
    from legwright.locomotion.gait import Gait, gait
    from legwright.locomotion.plan import plan
    from legwright.locomotion.walk import Pose, Walk
    from legwright.mechanics.loads import loads
    from legwright.mechanics.opening import load
    from legwright.mechanics.reach import reach_feet as reach
    from legwright.remote.joining import connect, connect_async
    from legwright.study.check import check

__version__ = "0.1.0"

__all__ = [
    "Gait",
    "LegwrightError",
    "LinkError",
    "Pose",
    "RequestError",
    "RobotError",
    "Walk",
    "__version__",
    "check",
    "connect",
    "connect_async",
    "gait",
    "load",
    "loads",
    "plan",
    "reach",
]

_PLACES = {
    "Gait": ("legwright.locomotion.gait", "Gait"),
    "Pose": ("legwright.locomotion.walk", "Pose"),
    "Walk": ("legwright.locomotion.walk", "Walk"),
    "check": ("legwright.study.check", "check"),
    "connect": ("legwright.remote.joining", "connect"),
    "connect_async": ("legwright.remote.joining", "connect_async"),
    "gait": ("legwright.locomotion.gait", "gait"),
    "load": ("legwright.mechanics.opening", "load"),
    "loads": ("legwright.mechanics.loads", "loads"),
    "plan": ("legwright.locomotion.plan", "plan"),
    "reach": ("legwright.mechanics.reach", "reach_feet"),
}


def __getattr__(name: str) -> object:
    """Import a public name when it is first used (PEP 562)."""
    if name not in _PLACES:
        raise AttributeError(f"module 'legwright' has no attribute {name!r}")
    module, attribute = _PLACES[name]
    value = getattr(import_module(module), attribute)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """The public names."""
    return sorted(__all__)
