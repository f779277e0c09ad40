"""A whole study made by hand: a real robot from a sheet, a tripod walk placed foot by foot."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace

import numpy as np

import legwright
from legwright.mechanics.draw import draw
from legwright.mechanics.loading import PointMass
from legwright.mechanics.loads import loads
from legwright.mechanics.motion import Motion
from legwright.study.finding import Finding, Sense, Verdict

SHEET = """
schema = 1
name = "siskin"
owner = "Low Orchard Walkers"
identification = "SI-CHK-0003"
revision = "B"
[dimensions]
legs = 6
hips = [["110 mm", "60 mm", "40 deg"], ["0 mm", "80 mm", "90 deg"], ["-110 mm", "60 mm", "140 deg"]]
coxa = "45 mm"
femur = "90 mm"
tibia = "140 mm"
[dimensions.plates]
length = "290 mm"
width = "150 mm"
gap = "40 mm"
cargo = "0.6 kg"
[dimensions.mast]
at = ["100 mm", "0 mm", "24 mm"]
height = "90 mm"
camera = "60 g"
[requirements]
stability_margin = "20 mm"
[servo.reed]
stall_torque = "1.6 N*m"
no_load_speed = "6 rad/s"
rated_voltage = "7.4 V"
continuous_torque = "0.6 N*m"
[fit]
"*" = "reed"
"""
PHASE = np.array([0.0, 0.5, 0.0, 0.5, 0.0, 0.5])


@cache
def robot() -> legwright.robot.robot.Robot:
    with TemporaryDirectory() as folder:
        (Path(folder) / "robot.toml").write_text(SHEET)
        return legwright.load(folder)


def walk_motion(body, *, stride: float = 0.09, cycle: float = 1.2, samples: int = 96) -> Motion:
    t = np.arange(samples) * cycle / samples
    names = list(body.legs)
    home = np.array(
        [
            hip + np.array([0.11 * np.cos(a), 0.11 * np.sin(a), -0.12])
            for hip, a in zip(
                body.hips, np.arctan2(body.hips[:, 1], body.hips[:, 0] * 0.5), strict=True
            )
        ]
    )
    local = (t[:, None] / cycle - PHASE[None, : len(names)]) % 1.0
    contact = local < 0.5
    along = np.where(contact, 0.5 - local / 0.5, (local - 0.5) / 0.5 - 0.5) * stride
    lift = np.where(contact, 0.0, 0.03 * np.sin(np.pi * (local - 0.5) / 0.5) ** 2)
    feet = np.repeat(home[None], samples, axis=0)
    feet[..., 0] += along
    feet[..., 2] += lift
    q = np.concatenate([leg.reach(feet[:, i]).q for i, leg in enumerate(body.legs.values())], 1)
    rate = (np.roll(q, -1, 0) - np.roll(q, 1, 0)) / (2 * cycle / samples)
    zeros = np.zeros((samples, 6))
    level = np.tile([0.0, 0.0, 0.12, 1.0, 0.0, 0.0, 0.0], (samples, 1))
    level[:, 0] = t * stride / (0.5 * cycle)
    return Motion(
        t=t,
        q=q,
        qd=rate,
        qdd=0.0 * q,
        feet=feet,
        contact=contact,
        body=level,
        twist=zeros,
        acceleration=zeros,
        gravity=np.array([0.0, 0.0, -9.80665]),
        reach_error=np.zeros(contact.shape),
        reached=np.ones(contact.shape, bool),
        cycle=cycle,
        joint_names=body.joint_names,
        leg_names=tuple(names),
    )


def findings(body) -> tuple[Finding, ...]:
    knee = body.legs["left-front"].joint_names[1]
    made = [
        Finding(
            area="torque",
            name="femur peak torque, tripod",
            verdict=Verdict.FAIL,
            value=1.91,
            limit=1.6,
            unit="N·m",
            parts=(body.legs["right-middle"].joint_names[1],),
            why="The right middle femur carries half the weight all through stance.",
            cure="Walk ripple: needs 1.2 N·m.",
            source="servo.reed.stall_torque",
        ),
        Finding(
            area="balance",
            name="static stability margin, tripod",
            verdict=Verdict.FAIL,
            value=9.6,
            limit=20.0,
            unit="mm",
            sense=Sense.AT_LEAST,
            parts=("left-rear",),
            why="Just as left-front touches down the centre of mass nears the edge.",
            cure="Move the battery 30 mm forward: 24 mm.",
            source="requirements.stability_margin",
        ),
        Finding(
            area="clash",
            name="closest pair of legs",
            verdict=Verdict.WARN,
            value=6.0,
            limit=5.0,
            unit="mm",
            sense=Sense.AT_LEAST,
            parts=("left-middle",),
            why="Left middle and left rear tibia pass each other.",
            cure="Shorten the stride.",
        ),
        Finding(
            area="heat",
            name="time to overheat, femur",
            verdict=Verdict.UNKNOWN,
            parts=(knee,),
            why="The winding's thermal resistance is not stated.",
            cure="Enter servo.reed.thermal_resistance.",
            unit="min",
        ),
    ]
    for i in range(40):
        made.append(
            Finding(
                area=("reach", "torque", "heat", "ground", "balance")[i % 5],
                verdict=Verdict.PASS,
                name=f"requirement {i} of leg and gait, walking {('forward', 'left')[i % 2]}",
                value=10.0 + i,
                limit=60.0,
                unit="mm",
                source="requirements.reach_reserve",
                assumed=i % 7 == 0,
            )
        )
    return tuple(made)


def extents() -> tuple[SimpleNamespace, ...]:
    rows = []
    for gait, top in (("tripod", 0.24), ("ripple", 0.15), ("wave", 0.09)):
        for k, direction in enumerate(("forward", "sideways")):
            rows.append(
                SimpleNamespace(
                    name=f"top speed {direction}",
                    gait=gait,
                    value=top * (1 - 0.2 * k),
                    unit="m/s",
                    stopped_by="right-middle femur speed",
                    parts=(),
                    required=0.12 if not k else None,
                )
            )
        rows.append(
            SimpleNamespace(
                name="top turn rate",
                gait=gait,
                value=40 * top / 0.24,
                unit="°/s",
                stopped_by="coxa range",
                parts=(),
                required=20.0,
            )
        )
    for name, value, unit, need in (
        ("largest payload", 1.4, "kg", 0.8),
        ("steepest slope", 14, "°", 18),
        ("lowest body height", 60, "mm", None),
        ("highest body height", None, "mm", None),
    ):
        rows.append(
            SimpleNamespace(
                name=name,
                gait="",
                value=value,
                unit=unit,
                parts=(),
                stopped_by="femur torque",
                required=need,
            )
        )
    return tuple(rows)


@cache
def study():
    body = robot()
    cases = {}
    for name, stride in (("tripod forward", 0.09), ("ripple forward", 0.05)):
        motion = walk_motion(body, stride=stride)
        weighed = loads(body, motion, payload=PointMass(mass=1.5, at=np.array([-0.05, 0, 0.05])))
        cases[name] = SimpleNamespace(
            name=name,
            gait=name.split()[0],
            motion=motion,
            loads=weighed,
            draw=draw(body, motion, weighed),
            walk=SimpleNamespace(
                velocity=(0.15, 0.0),
                turn=0.0,
                slope=0.0,
                lift=0.03,
                gait=SimpleNamespace(duty=0.5, name=name.split()[0]),
            ),
        )
    turn = np.linspace(0, 2 * np.pi, 60)
    outline = np.stack([0.13 + 0.1 * np.cos(turn), -0.08 + 0.11 * np.sin(turn)], -1)
    maps = (SimpleNamespace(leg="left-front", outline=outline, inside=0.62),)
    return SimpleNamespace(
        robot=body,
        findings=findings(body),
        footing=None,
        cases=cases,
        envelope=extents(),
        reach=maps,
        circuit=None,
        supplies={},
    )


@cache
def bare_study():
    body = legwright.load(Path(__file__).parents[1] / "data" / "wild" / "r101.urdf")
    missing = tuple(
        Finding(
            area=area,
            name=f"{area} cannot be judged",
            verdict=Verdict.UNKNOWN,
            why="No sheet.",
            cure="Enter requirements.",
        )
        for area in ("torque", "heat")
    )
    return SimpleNamespace(
        robot=body,
        findings=missing,
        footing=None,
        cases={},
        envelope=(),
        reach=(),
        circuit=None,
        supplies={},
    )
