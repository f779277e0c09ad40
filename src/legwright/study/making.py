"""How a robot is made, as one value: parts, tolerances, fits, findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from types import MappingProxyType
from typing import Any

from legwright.errors import RequestError
from legwright.fabrication.drilling import drilling_table
from legwright.fabrication.fits import Chosen, fits_of
from legwright.fabrication.foot_part import FootPart
from legwright.fabrication.parts import Parts, parts_of
from legwright.fabrication.plate import Plate
from legwright.locomotion.stance import Footing, footing
from legwright.robot.robot import Robot
from legwright.study.checks.plates import judged
from legwright.study.checks.tolerance import judged_strides, judged_tolerances
from legwright.study.evidence import Case
from legwright.study.export import finding_as_json
from legwright.study.finding import Finding, Verdict
from legwright.study.on_grid import OnGrid, on_grid, on_grid_as_json
from legwright.study.stride_tolerances import StrideTolerances, stride_tolerances
from legwright.study.tolerances import ToleranceStudy, tolerances_as_json, tolerances_of

NO_CASES: Mapping[str, Case] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Making:
    """What a workshop's documents are made from."""

    robot: Robot
    parts: Parts
    fits: tuple[Chosen, ...]
    tolerances: ToleranceStudy | None
    """None where the robot cannot stand."""
    findings: tuple[Finding, ...]
    strides: StrideTolerances | None
    """Tolerances while it walks; None where no walks were given."""
    layout: OnGrid | None
    """None where the robot cannot stand, or has no layout of mirrored three-joint legs."""

    @property
    def failed(self) -> bool:
        """Whether any finding fails."""
        return any(finding.verdict is Verdict.FAIL for finding in self.findings)


def making_of(
    robot: Robot, stand: Footing | None = None, cases: Mapping[str, Case] = NO_CASES
) -> Making:
    """How a robot is made.

    Args:
        robot: The robot.
        stand: Where it stands; found when None.
        cases: Walks, where there are some.

    Returns:
        Parts, fits, tolerances and findings.
    """
    findings: Sequence[Finding] = list(judged(robot))
    tolerances, layout, strides = None, None, None
    try:
        stand = stand or footing(robot)
    except RequestError:
        stand = None
    if stand is not None:
        tolerances = tolerances_of(robot, stand)
        layout = on_grid(robot, stand)
        strides = stride_tolerances(robot, cases)
        findings = [
            *judged_tolerances(robot, tolerances),
            *judged_strides(robot, strides),
            *findings,
        ]
    return Making(
        robot=robot,
        parts=parts_of(robot),
        fits=fits_of(robot),
        tolerances=tolerances,
        findings=tuple(findings),
        strides=strides,
        layout=layout,
    )


def plate_keys(plates: Sequence[Plate]) -> str:
    """The lines of the sheet that make the description use the plates as they are made.

    Args:
        plates: Upper and lower plate.

    Returns:
        TOML text.
    """
    lines = []
    for plate in plates:
        moments, (x, y) = plate.moments, plate.com
        kx = sqrt(moments.xx / moments.area - x * x)
        ky = sqrt(moments.yy / moments.area - y * y)
        lines += [
            f"[dimensions.plates.{plate.name.partition('-')[0]}]",
            f'mass = "{plate.mass * 1e3:.2f} g"',
            f'at = ["{_round(x)} mm", "{_round(y)} mm"]',
            f'spread = ["{_round(kx)} mm", "{_round(ky)} mm"]',
            "",
        ]
    return "\n".join(lines)


def _round(length: float) -> str:
    return f"{round(length * 1e3, 2) + 0.0:.2f}"


def _foot_as_json(foot: FootPart | None) -> dict[str, Any] | None:
    if foot is None:
        return None
    return {
        "count": foot.count,
        "material": foot.material,
        "radius": foot.radius,
        "height": foot.top + foot.radius,
        "screw": foot.screw,
        "hole": foot.hole,
        "depth": foot.depth,
        "pad_volume": foot.pad_volume,
        "boss_volume": foot.boss_volume,
    }


def making_as_json(making: Making) -> dict[str, Any]:
    """Making as JSON-ready data, SI units; the shape is described in docs/json.md.

    Args:
        making: How it is made.
    """
    return {
        "robot": making.robot.name,
        "verdict": "fail" if making.failed else "pass",
        "parts": [
            {
                "name": part.name,
                "kind": part.kind,
                "count": part.count,
                "material": part.material,
                "thickness": part.thickness,
                "mass": part.mass,
                "com": part.com.tolist(),
                "blank": list(part.blank),
                "cut_length": part.cut_length,
                "openings": part.openings,
                "bends": part.bends,
            }
            for part in making.parts.made
        ],
        "layout": on_grid_as_json(making.layout),
        "foot": _foot_as_json(making.parts.foot.part),
        "drilling": {
            plate.name: [
                {
                    "label": row.label,
                    "x": row.x,
                    "y": row.y,
                    "size": row.size,
                    "fit": row.fit,
                    "deviation": list(row.deviation),
                    "takes": row.takes,
                    "name": row.name,
                }
                for row in drilling_table(plate)
            ]
            for plate in making.parts.flat
        },
        "fits": [
            {
                "where": one.where,
                "diameter": one.diameter,
                "fit": one.fit.name,
                "kind": one.fit.kind,
                "clearance": [one.fit.least, one.fit.most],
            }
            for one in making.fits
        ],
        "tolerances": None
        if making.tolerances is None
        else tolerances_as_json(making.tolerances),
        "findings": [finding_as_json(finding) for finding in making.findings],
        "missing": list(making.parts.missing),
        "notes": list(making.parts.plates.notes),
    }  # fmt: skip
