"""All drawings of how a robot is made, in the order of the set."""

from __future__ import annotations

from legwright.study.making import Making
from legwright.views.angle_drawing import angle_sheet
from legwright.views.bracket_drawing import bracket_sheet
from legwright.views.foot_drawing import foot_sheet
from legwright.views.plate_drawing import plate_sheets
from legwright.views.rounding_drawing import todays_sheet
from legwright.views.tolerance_drawing import tolerance_sheet
from legwright.views.wide_sheet import WideSheet


def making_sheets(making: Making) -> tuple[WideSheet, ...]:
    """Layout, plates, brackets, foot, tolerances; those of which something is known.

    Args:
        making: How the robot is made.

    Returns:
        Landscape sheets; none for a robot without such a layout of which nothing is stated.
    """
    keys = making.robot.sheet.making
    sheets = [] if making.layout is None else [todays_sheet(making.layout)]
    sheets += plate_sheets(making.parts.plates.plates, keys)
    if making.parts.hip.bracket is not None:
        sheets.append(bracket_sheet(making.parts.hip.bracket, keys))
    for bracket in making.parts.angles.brackets:
        own = keys.angle[bracket.name.removeprefix("angle-")]
        sheets.append(angle_sheet(bracket, own, keys))
    if making.parts.foot.part is not None:
        sheets.append(foot_sheet(making.parts.foot.part, keys))
    if making.fits or (making.tolerances is not None and making.tolerances.feet):
        sheets.append(tolerance_sheet(making))
    return tuple(sheets)
