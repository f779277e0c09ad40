"""The build sheet: what parts cost."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias

from pydantic import Field

from legwright.robot.quantities import Part

if TYPE_CHECKING:
    Amount: TypeAlias = float
else:
    Amount = Annotated[float, Field(ge=0.0, le=1e9, allow_inf_nan=False)]


class Costs(Part):
    """What parts cost; the bill of materials leaves a blank where nothing is stated."""

    currency: str = Field(default="", max_length=8)
    """As it is to be printed behind every amount."""
    each: dict[str, Amount] = Field(default_factory=dict)
    """Key of the bill -> amount for one piece or one metre: ``"servo.dunnock" = 24.5``."""
    invented: bool = False
    """Whether the amounts are invented and of no real offer."""
