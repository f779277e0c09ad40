"""How far apart two lights look, to eyes with and without a colour-vision deficiency."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from legwright.robot.tree import Floats

DEFICIENCY: Mapping[str, Floats] = MappingProxyType(
    {
        "protanopia": np.array(
            [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
             [-0.003882, -0.048116, 1.051998]]
        ),
        "deuteranopia": np.array(
            [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
             [-0.01182, 0.04294, 0.968881]]
        ),
        "tritanopia": np.array(
            [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
             [0.004733, 0.691367, 0.3039]]
        ),
    }
)  # fmt: skip
"""Linear RGB as seen with a full deficiency.

Source: Machado, Oliveira & Fernandes, IEEE TVCG 15(6):1291-1298, 2009, severity 1.0.
"""

_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
     [0.0193339, 0.1191920, 0.9503041]]
)  # fmt: skip
"""Linear sRGB to XYZ, white D65 (IEC 61966-2-1)."""


def seen_with(rgb: ArrayLike, deficiency: str) -> Floats:
    """Linear RGB as somebody with a deficiency sees it.

    Args:
        rgb: Linear, 0 to 1, (..., 3).
        deficiency: One of `DEFICIENCY`.
    """
    seen = np.asarray(rgb, dtype=np.float64) @ DEFICIENCY[deficiency].T
    return np.clip(seen, 0.0, 1.0)


def lab(rgb: ArrayLike) -> Floats:
    """CIE L*a*b* of linear sRGB, (..., 3); white is full light on all three.

    Source: CIE 15.
    """
    xyz = np.asarray(rgb, dtype=np.float64) @ _XYZ.T / _XYZ.sum(axis=1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack(
        [
            116.0 * f[..., 1] - 16.0,
            500.0 * (f[..., 0] - f[..., 1]),
            200.0 * (f[..., 1] - f[..., 2]),
        ],
        axis=-1,
    )


def difference(one: ArrayLike, other: ArrayLike) -> Floats:
    """CIEDE2000 colour difference of two L*a*b* colours, (..., 3) -> (...,).

    Source: Sharma, Wu & Dalal, Color Research & Application 30:21-30, 2005.
    """
    one, other = np.asarray(one, dtype=np.float64), np.asarray(other, dtype=np.float64)
    L1, a1, b1 = np.moveaxis(one, -1, 0)
    L2, a2, b2 = np.moveaxis(other, -1, 0)
    mean = 0.5 * (np.hypot(a1, b1) + np.hypot(a2, b2))
    G = 0.5 * (1.0 - np.sqrt(mean**7 / (mean**7 + 25.0**7)))
    a1, a2 = (1.0 + G) * a1, (1.0 + G) * a2
    C1, C2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360.0, np.degrees(np.arctan2(b2, a2)) % 360.0
    grey = C1 * C2 == 0.0
    turn = (h2 - h1 + 180.0) % 360.0 - 180.0
    turn = np.where(turn == -180.0, 180.0, turn)
    dh = np.where(grey, 0.0, turn)
    dL, dC = L2 - L1, C2 - C1
    dH = 2.0 * np.sqrt(C1 * C2) * np.sin(np.radians(0.5 * dh))
    L, C = 0.5 * (L1 + L2), 0.5 * (C1 + C2)
    apart = np.abs(h1 - h2) > 180.0
    total = h1 + h2
    h = np.where(
        apart, np.where(total < 360.0, 0.5 * (total + 360.0), 0.5 * (total - 360.0)), 0.5 * total
    )
    h = np.where(grey, total, h)
    T = (
        1.0
        - 0.17 * np.cos(np.radians(h - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * h))
        + 0.32 * np.cos(np.radians(3.0 * h + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * h - 63.0))
    )
    SL = 1.0 + 0.015 * (L - 50.0) ** 2 / np.sqrt(20.0 + (L - 50.0) ** 2)
    SC, SH = 1.0 + 0.045 * C, 1.0 + 0.015 * C * T
    RC = 2.0 * np.sqrt(C**7 / (C**7 + 25.0**7))
    RT = -RC * np.sin(np.radians(60.0 * np.exp(-(((h - 275.0) / 25.0) ** 2))))
    light, chroma, hue = dL / SL, dC / SC, dH / SH
    total = light * light + chroma * chroma + hue * hue + RT * chroma * hue
    return np.asarray(np.sqrt(total))
