"""Kernel: the middle direction of what a foot reaches at a height."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel


@kernel
def lobe(columns, x, y, z, band, rounds, mean):  # type: ignore[no-untyped-def]
    """Mean direction ``mean`` (2,), in the ground plane, from a hip to foot points near a height.

    Args:
        columns: (3, N) foot points by coordinate.
        x: Of the hip.
        y: Of the hip.
        z: The height.
        band: Points that differ less from it in height count; all where there are none.
        rounds: So often the mean is taken anew, of the half-plane around it.
        mean: Out; shorter than 1 where directions differ.
    """
    total = columns.shape[1]
    along, aside = np.empty(total), np.empty(total)
    count, wide = 0, band
    while count == 0:
        for n in range(total):
            if not abs(columns[2, n] - z) < wide:
                continue
            dx, dy = columns[0, n] - x, columns[1, n] - y
            span = max(math.sqrt(dx * dx + dy * dy), 1e-9)
            along[count], aside[count] = dx / span, dy / span
            count += 1
        if wide == math.inf:
            break
        wide = math.inf
    for turn in range(rounds + 1):
        if turn > 0 and mean[0] * mean[0] + mean[1] * mean[1] < 0.01:
            break
        u, v, kept = 0.0, 0.0, 0
        for n in range(count):
            if turn == 0 or along[n] * mean[0] + aside[n] * mean[1] > 0.0:
                u += along[n]
                v += aside[n]
                kept += 1
        if kept:
            mean[0], mean[1] = u / kept, v / kept
