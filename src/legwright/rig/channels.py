"""Channels of a recording: their topics, what is in them, and their units.

One row per bus cycle; arrays are over joints (J) or feet (L) in the order that the channel
``/about`` names. A number that is not known is null. `docs/recording.md` says the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

NUMBER, NUMBERS, TABLE, WORD, TRUTHS, WORDS = (
    {"type": ["number", "null"]},
    {"type": "array", "items": {"type": ["number", "null"]}},
    {"type": "array", "items": {"type": "array", "items": {"type": ["number", "null"]}}},
    {"type": "string"},
    {"type": "array", "items": {"type": "boolean"}},
    {"type": "array", "items": {"type": "string"}},
)
OBJECTS = {"type": "array", "items": {"type": "object"}}

Field = tuple[Mapping[str, object], str]

CHANNELS: Mapping[str, Mapping[str, Field]] = MappingProxyType(
    {
        "/about": {
            "robot": (WORD, "name of the robot"),
            "joints": (WORDS, "names along the J axis"),
            "legs": (WORDS, "names along the L axis"),
            "rate": (NUMBER, "bus cycles per second [Hz]"),
            "seed": (NUMBER, "of noise and scatter; null on hardware"),
            "ground": (WORD, "family and measures"),
            "notes": (WORDS, "what was assumed, one sentence each"),
            "weight": (NUMBER, "of the robot and its payload [N]"),
            "mode": (WORD, "felt or blind; empty where no walk is scored"),
            "gait": (WORD, "name of the asked gait"),
            "speed": (NUMBER, "asked, forward [m/s]"),
            "distance": (NUMBER, "asked [m]"),
            "hips": (TABLE, "(L, 2) hips in the body frame: forward, to the left [m]"),
            "wanted_margin": (NUMBER, "stability margin that the sheet asks for [m]"),
            "lowest_voltage": (NUMBERS, "(J) below which a servo resets [V]"),
            "highest_winding": (NUMBERS, "(J) winding temperature allowed [K]"),
        },
        "/sensed": {
            "q": (NUMBERS, "(J) joint positions [rad]"),
            "qd": (NUMBERS, "(J) joint velocities [rad/s]"),
            "current": (NUMBERS, "(J) winding currents as read [A]"),
            "voltage": (NUMBER, "of the supply [V]"),
            "up": (NUMBERS, "(3) direction against gravity, body axes; empty without a sensor"),
            "spin": (NUMBERS, "(3) turn rates, body axes; empty without a sensor [rad/s]"),
        },
        "/targets": {
            "q": (NUMBERS, "(J) wanted joint positions [rad]"),
            "qd": (NUMBERS, "(J) wanted joint velocities [rad/s]"),
        },
        "/scene": {
            "links": (WORDS, "names along the B axis: links that can be seen"),
            "parts": (
                OBJECTS,
                "solids: link (index along B), leg (index along L, -1 for the trunk), points "
                "(N, 3) in the link's frame [m], faces (flat, corners anticlockwise from outside)",
            ),
            "heights": (TABLE, "(R, C) of the ground [m], rows ahead, columns to the left"),
            "spacing": (NUMBER, "of the heights [m]"),
            "start": (NUMBERS, "(2) x, y of the first height [m]"),
        },
        "/pose": {
            "links": (TABLE, "(B, 7) pose in the world: x y z [m], quaternion w x y z"),
        },
        "/command": {
            "kind": (WORD, "stand, walk, sit, hold, lift, place or probe"),
            "velocity": (NUMBERS, "(2) forward, to the left [m/s]"),
            "turn": (NUMBER, "to the left [rad/s]"),
            "gait": (WORD, "name of the gait"),
        },
        "/felt": {
            "contact": (TRUTHS, "(L) foot felt on the ground"),
            "force": (NUMBERS, "(L) felt force along the vertical [N]"),
            "margin": (NUMBER, "static stability margin as the controller reckons [m]"),
            "place": (NUMBERS, "(3) where the controller believes to be: x, y [m], heading [rad]"),
        },
        "/event": {
            "what": (WORD, "a word of the documented list"),
            "leg": (WORD, "leg, or empty"),
            "text": (WORD, "one sentence"),
            "limit": (WORD, "what kept it from being all that was asked, or empty"),
            "share": (NUMBER, "granted over asked, where something was slowed or limited"),
            "position": (NUMBERS, "(3) foot in the body frame [m]; empty where none is told"),
            "place": (NUMBERS, "(3) foot in the odometry ground frame [m]; likewise"),
            "force": (NUMBER, "upward push of the ground on a probing foot [N]"),
        },
        "/state": {
            "mode": (WORD, "what the robot is doing: limp, holding, standing, ..."),
            "faults": (WORDS, "faults that are declared and not cleared"),
            "wall": (NUMBER, "wall clock, seconds since 1970 [s]"),
        },
        "/drives": {
            "powered": (TRUTHS, "(J) the joint holds torque"),
            "fault": (NUMBERS, "(J) error code as CiA 402 object 603F codes it; 0 for none"),
            "winding": (NUMBERS, "(J) winding temperatures as the drives tell [K]"),
        },
        "/lights": {
            "colours": (TABLE, "(N, 3) red, green, blue of each light, linear, 0 to 1"),
        },
        "/notice": {
            "word": (WORD, "a fault's word, or mode, refused, cleared, signed in, ..."),
            "text": (WORD, "one sentence"),
        },
        "/truth": {
            "body": (NUMBERS, "(7) body frame in the world: x y z [m], quaternion w x y z"),
            "twist": (NUMBERS, "(6) linear [m/s], angular [rad/s] velocity, body axes"),
            "q": (NUMBERS, "(J) joint positions of the links [rad]"),
            "qd": (NUMBERS, "(J) [rad/s]"),
            "feet": (TABLE, "(L, 3) centres of the feet in the world [m]"),
            "force": (TABLE, "(L, 3) force of the ground on each foot, world axes [N]"),
            "peak": (NUMBERS, "(L) largest normal force within the cycle [N]"),
            "others": (NUMBER, "normal force on all that is no foot [N]"),
            "torque": (NUMBERS, "(J) torque that arrives at the links [N·m]"),
            "current": (NUMBERS, "(J) winding currents [A]"),
            "supply": (NUMBERS, "(J) supply currents [A]"),
            "voltage": (NUMBERS, "(J) at the servos [V]"),
            "winding": (NUMBERS, "(J) winding temperatures [K]"),
            "terminal": (NUMBER, "voltage at the source's terminals [V]"),
            "total": (NUMBER, "current of the source [A]"),
            "energy": (NUMBER, "drawn from the source since the start [J]"),
        },
    }
)
"""Topic -> field -> its JSON type and its meaning."""


def schema_of(topic: str) -> dict[str, object]:
    """The JSON schema of a channel's messages."""
    fields = CHANNELS[topic]
    return {
        "title": topic.strip("/"),
        "type": "object",
        "properties": {
            name: {**kind, "description": meaning} for name, (kind, meaning) in fields.items()
        },
    }
