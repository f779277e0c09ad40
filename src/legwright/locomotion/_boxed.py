"""The control kernels' values by reference.

A kernel that takes a tuple of thirty arrays takes some two hundred numbers: each costs time to
compile, at every call inside, and to hand over from Python (measured: 7 µs a call instead of
1, and four times as long to compile). So the kernels get the same arrays in a box, of which
only the address travels; fields are read by the same names.
"""

from __future__ import annotations

from typing import Any

from numba import types
from numba.experimental import structref

from legwright.kernel import kernel
from legwright.locomotion._contact import Feeling
from legwright.locomotion._grip import Grip
from legwright.locomotion._state import Fixed, Goal, State
from legwright.locomotion._step import Whole
from legwright.mechanics._recursion import Packed


@structref.register
class _PackedType(types.StructRef):  # type: ignore[misc]
    """Of boxed `Packed`."""


@structref.register
class _FixedType(types.StructRef):  # type: ignore[misc]
    """Of boxed `Fixed`."""


@structref.register
class _GoalType(types.StructRef):  # type: ignore[misc]
    """Of boxed `Goal`."""


@structref.register
class _StateType(types.StructRef):  # type: ignore[misc]
    """Of boxed `State`."""


@structref.register
class _FeelingType(types.StructRef):  # type: ignore[misc]
    """Of boxed `Feeling`."""


@structref.register
class _GripType(types.StructRef):  # type: ignore[misc]
    """Of boxed `Grip`."""


@structref.register
class _WholeType(types.StructRef):  # type: ignore[misc]
    """Of boxed `Whole`."""


class PackedBox(structref.StructRefProxy):  # type: ignore[misc]
    """Boxed `Packed`."""


class FixedBox(structref.StructRefProxy):  # type: ignore[misc]
    """Boxed `Fixed`."""


class GoalBox(structref.StructRefProxy):  # type: ignore[misc]
    """Boxed `Goal`."""


class StateBox(structref.StructRefProxy):  # type: ignore[misc]
    """Boxed `State`."""


class FeelingBox(structref.StructRefProxy):  # type: ignore[misc]
    """Boxed `Feeling`."""


class GripBox(structref.StructRefProxy):  # type: ignore[misc]
    """Boxed `Grip`."""


class WholeBox(structref.StructRefProxy):  # type: ignore[misc]
    """Boxed `Whole`."""


structref.define_proxy(PackedBox, _PackedType, Packed._fields)
structref.define_proxy(FixedBox, _FixedType, Fixed._fields)
structref.define_proxy(GoalBox, _GoalType, Goal._fields)
structref.define_proxy(StateBox, _StateType, State._fields)
structref.define_proxy(FeelingBox, _FeelingType, Feeling._fields)
structref.define_proxy(GripBox, _GripType, Grip._fields)
structref.define_proxy(WholeBox, _WholeType, Whole._fields)


@kernel
def _box_packed(*values):  # type: ignore[no-untyped-def]
    return PackedBox(*values)


@kernel
def _box_fixed(*values):  # type: ignore[no-untyped-def]
    return FixedBox(*values)


@kernel
def _box_goal(*values):  # type: ignore[no-untyped-def]
    return GoalBox(*values)


@kernel
def _box_state(*values):  # type: ignore[no-untyped-def]
    return StateBox(*values)


@kernel
def _box_feeling(*values):  # type: ignore[no-untyped-def]
    return FeelingBox(*values)


@kernel
def _box_grip(*values):  # type: ignore[no-untyped-def]
    return GripBox(*values)


@kernel
def _box_whole(*values):  # type: ignore[no-untyped-def]
    return WholeBox(*values)


def boxed(value: Fixed | Goal | State | Feeling | Grip | Whole) -> Any:
    """A box of the very same arrays, for the kernels.

    Args:
        value: What the kernels read or write.
    """
    if isinstance(value, Fixed):
        return _box_fixed(_box_packed(*value.packed), *value[1:])
    if isinstance(value, Goal):
        return _box_goal(*value)
    if isinstance(value, State):
        return _box_state(*value)
    if isinstance(value, Grip):
        return _box_grip(*value)
    if isinstance(value, Whole):
        return _box_whole(*value)
    return _box_feeling(*value)
