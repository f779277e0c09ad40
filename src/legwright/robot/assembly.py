"""From a tree and a sheet to a `Robot`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np

from legwright.errors import RobotError
from legwright.robot.chain import Chain
from legwright.robot.chains import chain_of, trunk_links, trunk_of
from legwright.robot.fitting import servos_of
from legwright.robot.ground_reach import check_feet_reach
from legwright.robot.held_joints import held_positions, stands_of, waists_of
from legwright.robot.leg import Leg, Solver
from legwright.robot.leg_names import ordered_names
from legwright.robot.legs import Found, find_legs
from legwright.robot.legs_named import known, legs_of_sheet
from legwright.robot.limb_places import UP, Places, places_of, plan_view
from legwright.robot.paths import poses_from, rigid_with
from legwright.robot.robot import Robot
from legwright.robot.sheet import Sheet
from legwright.robot.shell_mass import with_shells
from legwright.robot.tree import Floats, Tree
from legwright.robot.urdf_notes import notes_on


def assemble(tree: Tree, sheet: Sheet, source: Path, description: Path, solver: Solver) -> Robot:
    """The robot that a tree and a sheet make.

    Args:
        tree: Links and joints.
        sheet: The build sheet; all defaults when there is none.
        source: The file that was asked for.
        description: The file that holds the links and joints, for errors.
        solver: Chooses the kinematics of each leg.

    Returns:
        The robot.

    Raises:
        RobotError: if tree and sheet make no walking robot.
    """
    found = _found(tree, sheet, source, description)
    body = _body(tree, sheet, found, source)
    tree = with_shells(tree, body, sheet, source)
    limbs = found.limbs
    held = held_positions(tree, limbs, sheet.held, source)
    places = places_of(tree, body, limbs, held)
    poses = poses_from(tree, body, held)
    shapes = [
        (shape, poses[link] @ shape.placement)
        for link in rigid_with(tree, body)
        for shape in tree.links[link].shapes
    ]
    grounded = check_feet_reach(shapes, limbs, places, description)
    chains = _chains(tree, sheet, found, poses, held, path=description)
    legs = _legs(chains, found, places, solver)
    known(sheet.stance.feet, legs, source, "stance.feet", "leg")
    stands = stands_of(tree, body)
    driven = {n: at for n, at in held.items() if tree.joints[n].actuated and n not in stands}
    names = [name for leg in legs.values() for name in leg.joint_names] + list(driven)
    return Robot(
        name=sheet.name or tree.name,
        source=source,
        tree=tree,
        body=body,
        legs=MappingProxyType(legs),
        trunk=trunk_of(tree, limbs, poses),
        held=MappingProxyType(driven),
        servos=MappingProxyType(servos_of(names, tree, sheet, source)),
        sheet=sheet,
        notes=(
            *found.notes,
            *_notes(body, places, stands, waists_of(tree, body, limbs), held),
            *grounded,
            *notes_on(tree, legs),
        ),
    )


def _found(tree: Tree, sheet: Sheet, source: Path, description: Path) -> Found:
    if sheet.legs:
        return legs_of_sheet(tree, sheet.legs, source)
    known(sheet.not_legs, [*tree.links, *tree.joints], source, "not_legs", "link or joint")
    return find_legs(tree, description, not_legs=sheet.not_legs)


def _body(tree: Tree, sheet: Sheet, found: Found, source: Path) -> str:
    if sheet.body is None:
        return found.body
    known([sheet.body], tree.links, source, "body", "link")
    if sheet.body not in trunk_links(tree, found.limbs):
        raise RobotError(
            source, "body", f"'{sheet.body}' is part of a leg", f"Name '{found.body}' or none."
        )
    return sheet.body


def _chains(
    tree: Tree,
    sheet: Sheet,
    found: Found,
    poses: Mapping[str, Floats],
    held: Mapping[str, float],
    *,
    path: Path,
) -> list[Chain]:
    offsets = {name: entry.offset for name, entry in sheet.legs.items()}
    return [
        chain_of(
            tree,
            poses[limb.base],
            limb,
            held,
            path=path,
            foot_offset=offsets[found.names[index]] if found.names else (0.0, 0.0, 0.0),
            foot_radius=sheet.foot.radius,
        )
        for index, limb in enumerate(found.limbs)
    ]


def _legs(chains: list[Chain], found: Found, places: Places, solver: Solver) -> dict[str, Leg]:
    """Legs in order, by the sheet's names or by place."""
    legs: dict[str, Leg] = {}
    for index, by_place in ordered_names(_spots(places)):
        name = found.names[index] if found.names else by_place
        legs[name] = Leg(name=name, chain=chains[index], kinematics=solver(chains[index]))
    return legs


def _spots(places: Places) -> Floats:
    """Where legs are counted to stand: at their hips, or at their feet where hips line up."""
    hips = plan_view(places.hips, places.up)
    feet = plan_view(np.array([ends.mean(axis=0) for ends in places.ends]), places.up)
    spread = np.max(np.abs(hips - hips.mean(axis=0)), axis=0)
    return np.where(spread > 0.05 * float(np.median(places.lengths)), hips, feet)


def _notes(
    body: str, places: Places, stands: set[str], waists: list[str], held: dict[str, float]
) -> list[str]:
    notes = [
        f"Joint '{name}' lies between the legs; held at {held.get(name, 0.0):.3g}, it counts as "
        "part of the trunk."
        for name in waists
    ]
    notes += [f"Joint '{name}' only carries the robot; left out." for name in sorted(stands)]
    if not np.array_equal(places.up, UP):
        axis = "xyz"[int(np.argmax(np.abs(places.up)))]
        sign = "+" if places.up.sum() > 0 else "-"
        notes.append(
            f"In the frame of body link '{body}' up seems to be {sign}{axis}, not +z: standing and "
            "walking are judged with z up. Name a body link whose z points up under 'body' in "
            "the sheet."
        )
    elif float(np.mean([np.mean(ends[:, 2]) for ends in places.ends])) > float(
        np.max(places.heights) + 0.25 * np.max(places.lengths)
    ):
        notes.append(f"Most postures have the feet above the body; does z of '{body}' point up?")
    if len(places.hips) < 4:
        notes.append(f"{len(places.hips)} legs cannot walk with a static stability margin.")
    return notes
