"""Light and colours of the rendered world; they change nothing of its physics."""

from __future__ import annotations

from typing import Any

LINK = (0.62, 0.66, 0.68, 1.0)
FOOT = (0.13, 0.14, 0.15, 1.0)
GROUND = (0.66, 0.62, 0.53, 1.0)
SKY, HORIZON = (0.80, 0.86, 0.90), (0.96, 0.95, 0.93)


def paint(spec: Any) -> None:
    """Colour the parts of a specification and light them.

    Args:
        spec: The engine's specification; changed.
    """
    import mujoco

    for geom in spec.geoms:
        if geom.name == "ground":
            geom.rgba = GROUND
        else:
            rubber = geom.name.startswith("foot of ") or geom.contype == 0
            geom.rgba = FOOT if rubber else LINK
    spec.visual.quality.shadowsize, spec.visual.quality.offsamples = 0, 2  # no GPU needed
    spec.visual.headlight.ambient = [0.35] * 3
    spec.visual.headlight.diffuse = [0.35] * 3
    spec.visual.headlight.specular = [0.05] * 3
    spec.worldbody.add_light(
        type=mujoco.mjtLightType.mjLIGHT_DIRECTIONAL,
        dir=[-0.4, 0.5, -1.0],
        diffuse=[0.6] * 3,
        castshadow=False,
    )
    spec.add_texture(
        name="sky",
        type=mujoco.mjtTexture.mjTEXTURE_SKYBOX,
        builtin=mujoco.mjtBuiltin.mjBUILTIN_GRADIENT,
        rgb1=SKY,
        rgb2=HORIZON,
        width=64,
        height=384,
    )
