"""Kernel: one bus cycle of physics, plates, servos and the engine's step by turns.

The engine is called through the address of its own step function, so that a cycle costs one
call from Python. Where that address cannot be had, the world steps from Python instead: the
same arithmetic in the same order.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Any

from llvmlite import ir  # type: ignore[import-untyped]
from numba import types
from numba.extending import intrinsic

from legwright.kernel import kernel
from legwright.rig._foothold_kernel import lay_plates
from legwright.rig._servo_kernel import step_servos


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


@kernel
def run_cycle(engine, servos, plates, felt, trace):  # type: ignore[no-untyped-def]
    """Advance by as many physics steps as `trace` has rows.

    Args:
        engine: Addresses of step function, model and data.
        servos: What `step_servos` takes.
        plates: What `lay_plates` takes.
        felt: The engine's sensors, (L,).
        trace: Their readings after every step, (S, L); changed.
    """
    for index in range(trace.shape[0]):
        lay_plates(*plates)
        step_servos(*servos)
        _call(engine[0], engine[1], engine[2])
        for foot in range(felt.shape[0]):
            trace[index, foot] = felt[foot]
