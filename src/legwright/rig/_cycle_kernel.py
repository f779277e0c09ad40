"""Kernel: one bus cycle of physics, plates, servos and the engine's step by turns; and readings.

The engine is called through the address of its own step function, so that a cycle costs one
call from Python. Where that address cannot be had, the world steps from Python instead: the
same arithmetic in the same order.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Any

import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import types
from numba.experimental import structref
from numba.extending import intrinsic

from legwright.kernel import kernel
from legwright.rig._foothold_kernel import lay_plates
from legwright.rig._inertial_kernel import read_inertial
from legwright.rig._servo_kernel import read_servos, step_servos
from legwright.rig._supply_kernel import follow


def engine_step() -> int:
    """Address of the engine's step function in this process; 0 where it cannot be had."""
    import mujoco

    for path in sorted(Path(mujoco.__file__).parent.glob("*mujoco.*")):
        if path.suffix == ".py":
            continue
        try:
            found = ctypes.CDLL(str(path)).mj_step
        except (OSError, AttributeError):
            continue
        return ctypes.cast(found, ctypes.c_void_p).value or 0
    return 0


@intrinsic  # type: ignore[untyped-decorator]
def _call(typing: Any, address: Any, model: Any, data: Any) -> Any:
    """Call a C function of two pointers that returns nothing."""
    signature = types.void(types.intp, types.intp, types.intp)

    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        pointer = ir.IntType(8).as_pointer()
        kind = ir.FunctionType(ir.VoidType(), [pointer, pointer])
        target = builder.inttoptr(args[0], kind.as_pointer())
        builder.call(target, [builder.inttoptr(value, pointer) for value in args[1:]])
        return context.get_dummy_value()

    return signature, code


FIELDS = (
    "step", "model", "data", "c", "s", "qpos", "qvel", "at", "goal", "resistance", "line", "volts",
    "dt", "force", "heights", "spacing", "x0", "y0", "position", "feet", "radius", "plate", "turn",
    "felt", "trace", "curve", "noise", "grain", "orientation", "velocity", "against", "bias",
)  # fmt: skip
"""Addresses of the engine's step function, model and data; what `step_servos` takes; what
`lay_plates` takes; the engine's foot sensors, (L,); their readings after every step, (S, L); what
`follow`, `read_servos` and `read_inertial` take."""


@structref.register
class _MachineType(types.StructRef):  # type: ignore[misc]
    """Of a boxed machine."""


class MachineBox(structref.StructRefProxy):  # type: ignore[misc]
    """All that a bus cycle reads and writes, handed over as one address (decision 9)."""


structref.define_proxy(MachineBox, _MachineType, FIELDS)


@kernel
def machine(*values):  # type: ignore[no-untyped-def]
    """Box the values of `FIELDS`, for `run_cycle`."""
    return MachineBox(*values)


@kernel
def run_cycle(m):  # type: ignore[no-untyped-def]
    """Advance a `machine` by as many physics steps as its trace has rows."""
    follow(m.line, m.curve)
    for index in range(m.trace.shape[0]):
        lay_plates(m.heights, m.spacing, m.x0, m.y0, m.position, m.feet, m.radius, m.plate, m.turn)
        step_servos(
            m.c, m.s, m.qpos, m.qvel, m.at, m.goal, m.resistance, m.line, m.volts, m.dt, m.force
        )
        _call(m.step, m.model, m.data)
        for foot in range(m.felt.shape[0]):
            m.trace[index, foot] = m.felt[foot]


@kernel
def read_sensors(m, chance, draws):  # type: ignore[no-untyped-def]
    """What a `machine` reports.

    Args:
        m: The machine.
        chance: Draws of the normal distribution, (J + 3,).
        draws: Others, for the turn rates, (3,).

    Returns:
        Position, velocity and current, (3, J), nan where a servo is silent; direction against
        gravity, body frame, (3,); and angular velocity, body frame, (3,).
    """
    count = m.s.shape[1]
    told, up, spin = np.empty((3, count)), np.empty(3), np.empty(3)
    read_servos(m.s, m.noise, m.grain, chance, told)
    read_inertial(m.orientation, m.velocity, m.against, m.bias, chance[count:], draws, up, spin)
    return told, up, spin
