"""The physics world: the robot with real servos on a ground, behind sense, apply, advance."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.errors import RequestError, RigError, did_you_mean
from legwright.locomotion.signals import Sensed, Targets
from legwright.locomotion.stance import footing
from legwright.mechanics.loading import PointMass
from legwright.rig import _servo_kernel as k
from legwright.rig._cycle_kernel import engine_step, machine, read_sensors, run_cycle
from legwright.rig._foothold_kernel import lay_plates
from legwright.rig._supply_kernel import follow
from legwright.rig.chance import Chance
from legwright.rig.ground import Ground
from legwright.rig.gyro import Gyro
from legwright.rig.scatter import NONE, Scatter, scattered
from legwright.rig.scene import link_inertia, scene_of
from legwright.rig.servo_model import Loop, servos_of
from legwright.rig.setting import set_down
from legwright.rig.supply import Supply, supply_of
from legwright.rig.truth import Truth, foot_forces
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

if TYPE_CHECKING:
    import mujoco


class World:
    """A robot on a ground; one call of `advance` is one bus cycle.

    Targets that are applied reach the servos with the next cycle: the bus's delay. The same
    seed and the same calls give the same run, bit for bit.
    """

    def __init__(
        self,
        robot: Robot,
        ground: Ground,
        *,
        seed: int,
        timestep: float = 0.001,
        rate: float = 200.0,
        payload: PointMass | None = None,
        supply: Supply | None = None,
        loop: Loop | None = None,
        scatter: Scatter = NONE,
        current_noise: float | None = None,
        ambient: float | None = None,
        stand: float | None = None,
    ) -> None:
        """Build the world and set the robot on the ground.

        Args:
            robot: The robot.
            ground: What it walks on.
            seed: Of all noise and scatter.
            timestep: Of the physics [s]; a bus cycle is a whole number of them.
            rate: Bus cycles per second [Hz].
            payload: Fixed to the body.
            supply: What feeds the servos; the sheet's battery when None.
            loop: Of the servo electronics.
            scatter: Of single servos.
            current_noise: Standard deviation of one current reading; the sheet's when None [A].
            ambient: [K]; the sheet's when None.
            stand: Height of a bench stand that holds the body frame in the air, or None [m].

        Raises:
            RequestError: if a number is out of range.
            RobotError: if the engine refuses the robot.
        """
        import mujoco

        self.robot, self.ground = robot, ground
        self._substeps = _substeps(timestep, rate)
        self.rate, self.timestep = rate, timestep
        random = np.random.default_rng(_checked_seed(seed))
        self._stand = stand
        self._scene = scene_of(
            robot, ground, timestep=timestep, payload=payload, on_stand=stand is not None
        )
        self._model = self._scene.model
        self._at = np.stack([self._scene.at_q, self._scene.at_v])
        self._data = mujoco.MjData(self._model)
        self._step = mujoco.mj_step
        self._engine = engine_step(), self._model._address, self._data._address
        self._felt = self._data.sensordata
        self._inertial = robot.sheet.sensors.inertial
        self._against = np.array([0.0, 0.0, 1.0])
        self._gyro = Gyro(seed=int(seed))
        self.ambient = robot.sheet.requirements.ambient if ambient is None else ambient
        self._stance = footing(robot)
        servos = servos_of(
            robot,
            link_inertia(self._scene, self._data, self._stance.q),
            timestep=timestep,
            ambient=self.ambient,
            loop=loop,
        )
        self._constants = scattered(servos.constants, scatter, random)
        self._chance = Chance(random, len(servos.noise) + 3)
        self._noise = servos.noise if current_noise is None else 0.0 * servos.noise + current_noise
        self._grain = servos.grain
        self.supply = supply_of(robot) if supply is None else supply
        self.notes = (*servos.notes, f"Supply: {self.supply.about}.")
        self._servos = servos
        self.trace = np.zeros((self._substeps, len(robot.legs)))
        """Normal force on each foot at every physics step of the last cycle (S, L) [N]."""
        self.reset()

    def reset(
        self,
        q: ArrayLike | None = None,
        *,
        at: tuple[float, float] = (0.0, 0.0),
        yaw: float = 0.0,
        lift: float = 0.0,
    ) -> None:
        """Set the robot level on the ground, at rest, windings at ambient temperature.

        Args:
            q: Joint positions, (J,) [rad]; the footing's when None.
            at: Where the body frame stands, x, y [m].
            yaw: Heading [rad].
            lift: Gap under the lowest foot [m].

        Raises:
            RequestError: if the shape of q does not fit.
        """
        robot, ground = self.robot, self.ground
        joints = self._stance.q if q is None else np.asarray(q, dtype=np.float64)
        if joints.shape != (len(robot.joint_names),) or not np.isfinite(joints).all():
            what = f"{len(robot.joint_names)} finite numbers"
            raise RequestError("joint positions", joints.shape, what)
        set_down(
            robot, ground, self._scene, self._data, joints, at=at, yaw=yaw, lift=lift,
            stand=self._stand,
        )  # fmt: skip
        self._state = self._servos.states(joints, self.ambient)
        self._goal = np.stack([joints, np.zeros_like(joints)])
        self._next: Targets | None = None
        self._told = Targets(q=joints.copy(), qd=np.zeros_like(joints))
        self._cycles = 0
        self._spent = self.supply.energy
        self._volts = self.supply.voltages(self._state[k.SUPPLY], 0.0).copy()
        self._servo_view, self._plate_view = self._kernel_views()
        data, body = self._data, self._scene.body
        self._machine = machine(
            *self._engine, *self._servo_view, *self._plate_view, self._felt, self.trace,
            self.supply.curve, self._noise, self._grain, data.xmat[body], data.cvel[body, :3],
            self._against, self._gyro.bias,
        )  # fmt: skip

    def _kernel_views(self) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
        """What `step_servos` and `lay_plates` take; level ground needs no plates."""
        data, scene, ground, supply = self._data, self._scene, self.ground, self.supply
        servos = (
            self._constants, self._state, data.qpos, data.qvel, self._at, self._goal,
            supply.resistance, supply.line, self._volts, self.timestep, data.qfrc_applied,
        )  # fmt: skip
        feet = scene.foot_geoms if scene.relief else scene.foot_geoms[:0]
        plates = (
            ground.heights, ground.spacing, *ground.start, data.geom_xpos,
            feet, scene.foot_radius, data.mocap_pos, data.mocap_quat,
        )  # fmt: skip
        return servos, plates

    @property
    def time(self) -> float:
        """Since the last reset [s]."""
        return self._cycles * self._substeps * self.timestep

    @property
    def model(self) -> mujoco.MjModel:
        """The engine's model, for pictures."""
        return self._model

    @property
    def foot_geoms(self) -> NDArray[np.int64]:
        """The engine's numbers of the feet's balls, (L,)."""
        return self._scene.foot_geoms

    @property
    def span(self) -> float:
        """Widest distance between two feet as it stands [m]."""
        feet = self._stance.feet
        return float(np.linalg.norm(feet[:, None] - feet[None, :], axis=2).max())

    def pose(self) -> Floats:
        """The engine's positions: what a picture is made from."""
        return np.array(self._data.qpos, dtype=np.float64)

    def sense(self) -> Sensed:
        """What the bus reads now; draws noise, so once per cycle."""
        told, up, spin = read_sensors(self._machine, self._chance.draw(), self._gyro.draw())
        return Sensed(
            q=told[0],
            qd=told[1],
            current=told[2],
            voltage=self.supply.terminal,
            up=up if self._inertial else None,
            spin=spin if self._inertial else None,
        )

    def apply(self, targets: Targets) -> None:
        """Send targets; they reach the servos when the next cycle begins.

        Args:
            targets: nan for joints that keep what they were told before.

        Raises:
            RequestError: if the number of targets is wrong or one is infinite.
        """
        wanted = self._told.q.shape
        if not (targets.q.shape == targets.qd.shape == wanted):
            raise RequestError("joint targets", targets.q.shape, f"of shape {wanted}")
        if not isfinite(targets.q.dot(targets.q) + targets.qd.dot(targets.qd)):
            endless = np.flatnonzero(np.isinf(targets.q) | np.isinf(targets.qd))
            if endless.size:
                name = self.robot.joint_names[endless[0]]
                raise RequestError(f"target of {name}", float("inf"), "finite, or nan to keep it")
            kept = np.isnan(targets.q) | np.isnan(targets.qd)
            targets = Targets(
                q=np.where(kept, self._told.q, targets.q), qd=np.where(kept, 0.0, targets.qd)
            )
        self._next = self._told = targets

    def advance(self) -> None:
        """One bus cycle of physics.

        Raises:
            RigError: if the physics became unstable.
        """
        if self.ground.patches:
            self._grip()
        if self._engine[0]:
            run_cycle(self._machine)
        else:
            self._cycle()
        self._cycles += 1
        if self._data.time < (self._cycles - 0.5) * self._substeps * self.timestep:
            self._burst()  # the engine starts anew when it finds nan
        if self._next is not None:
            self._goal[0], self._goal[1] = self._next.q, self._next.qd
            self._next = None

    def _cycle(self) -> None:
        """The same as `run_cycle`, step by step."""
        servos, plates, felt = self._servo_view, self._plate_view, self._felt
        follow(self.supply.line, self.supply.curve)
        for reading in self.trace:
            lay_plates(*plates)
            k.step_servos(*servos)
            self._step(self._model, self._data)
            reading[:] = felt

    def truth(self) -> Truth:
        """What is really so: for scoring, never for the controller."""
        data, scene, state = self._data, self._scene, self._state
        force, others = foot_forces(self._model, data, scene.foot_geoms)
        velocity = np.zeros(6)
        import mujoco

        kind = mujoco.mjtObj.mjOBJ_XBODY
        mujoco.mj_objectVelocity(self._model, data, kind, scene.body, velocity, 1)
        return Truth(
            time=self.time,
            body=np.concatenate([data.xpos[scene.body], data.xquat[scene.body]]),
            twist=np.concatenate([velocity[3:], velocity[:3]]),
            q=data.qpos[scene.at_q],
            qd=data.qvel[scene.at_v],
            feet=data.geom_xpos[scene.foot_geoms].copy(),
            force=force,
            peak=self.trace.max(axis=0),
            others=others,
            torque=state[k.TORQUE].copy(),
            current=state[k.CURRENT].copy(),
            supply=state[k.SUPPLY].copy(),
            voltage=self._volts.copy(),
            winding=state[k.WINDING].copy(),
            terminal=self.supply.terminal,
            total=self.supply.total,
            energy=self.supply.energy - self._spent,
        )

    def power(self, on: bool) -> None:
        """Switch the torque of all servos; they keep answering.

        A servo that comes on holds the position at which it is found.
        """
        self._next = None
        self.energise(np.full(len(self._goal[0]), on))

    def energise(self, which: NDArray[np.bool_]) -> None:
        """Switch the torque of single servos; those that come on hold where they are found.

        Args:
            which: (J,), true for servos that are to hold torque.
        """
        off = self._state[k.OFF]
        new = which & np.isinf(off)
        if new.any():
            self._goal[0, new], self._goal[1, new] = self._state[k.READ, new], 0.0
            told = np.where(new, self._state[k.READ], self._told.q)
            self._told = Targets(q=told, qd=np.zeros_like(told))
            self._state[k.ANGLE, new] = self._data.qpos[self._scene.at_q][new]
        off[new], off[~which] = 0.0, np.inf

    @property
    def powered(self) -> NDArray[np.bool_]:
        """Which servos hold torque, (J,)."""
        return np.asarray((self._state[k.OFF] <= 0.0) & (self._state[k.DEAD] == 0.0))

    @property
    def voltages(self) -> Floats:
        """Voltages at the servos as smart servos report them, (J,) [V]."""
        return np.array(self._volts)

    @property
    def winding(self) -> Floats:
        """Winding temperatures as smart servos report them, (J,) [K]."""
        return np.array(self._state[k.WINDING])

    def lean(self, angle: float) -> None:
        """Tip the whole world about its x axis, as if the ground had given way.

        Args:
            angle: Of gravity against the ground's normal [rad]; 0 sets it right.
        """
        self._against[:] = 0.0, np.sin(angle), np.cos(angle)
        gravity = self._model.opt.gravity
        gravity[:] = -np.linalg.norm(gravity) * self._against

    def silence(self, joint: str) -> None:
        """Let a servo fail: it goes limp and does not answer.

        Raises:
            RequestError: if there is no such joint.
        """
        names = self.robot.joint_names
        if joint not in names:
            raise RequestError("joint", joint, f"a driven leg joint. {did_you_mean(joint, names)}")
        self._state[k.DEAD, names.index(joint)] = 1.0

    def drift_friction(self, factor: ArrayLike) -> None:
        """Multiply the friction of all gears by a factor, as warm grease or dirt does.

        Args:
            factor: () or (J,), at least 0; 1 is as built.

        Raises:
            RequestError: if it is out of range.
        """
        factors = np.asarray(factor, dtype=np.float64)
        if not (np.isfinite(factors).all() and (factors >= 0.0).all()):
            raise RequestError("friction factor", factor, "finite and at least 0")
        self._state[k.FRICTION] = factors

    def _burst(self) -> None:
        when = self._cycles * self._substeps * self.timestep
        raise RigError(
            f"The physics became unstable at {when:.3f} s with a time step of "
            f"{self.timestep:g} s. Take a shorter one, or look for links of almost no mass."
        )

    def _grip(self) -> None:
        """Friction under each foot, where the ground differs from place to place."""
        scene = self._scene
        feet: NDArray[np.float64] = self._data.geom_xpos[scene.foot_geoms]
        grip = self.ground.friction_at(feet[:, 0], feet[:, 1], scene.foot_friction)
        self._model.geom_friction[scene.foot_geoms, 0] = grip


def _substeps(timestep: float, rate: float) -> int:
    """Physics steps per bus cycle."""
    if not (isfinite(timestep) and timestep > 0.0):
        raise RequestError("timestep", timestep, "finite and more than 0 s")
    if not (isfinite(rate) and rate > 0.0):
        raise RequestError("bus rate", rate, "finite and more than 0 Hz")
    steps = 1.0 / (rate * timestep)
    if steps < 0.999 or abs(steps - round(steps)) > 1e-6 * steps:
        allowed = f"such that a bus cycle of {1.0 / rate:.4g} s is a whole number of steps"
        raise RequestError("timestep", timestep, allowed)
    return round(steps)


def _checked_seed(seed: int) -> int:
    if isinstance(seed, bool) or not isinstance(seed, int | np.integer) or seed < 0:
        raise RequestError("seed", seed, "a whole number, 0 or more")
    return int(seed)
