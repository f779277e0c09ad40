"""Driving over the wire: one driver, numbers that rise, orders that grow old, the deadman."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from legwright.errors import LinkError
from legwright.remote.session import Peer
from legwright.remote.sign_in import Doors, Role, key_for, new_token


def words(messages: list[dict[str, Any]]) -> list[str]:
    return [m.get("what", m["type"]) for m in messages]


def ends(messages: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [m for m in messages if m["type"] == "ended"]


def test_a_walk_lasts_its_seconds_and_ends_standing(driver: Any) -> None:
    assert driver.ask("walk", forward=0.05, seconds=1.0)["ok"]
    n, began = driver.number, driver.local.now
    assert driver.mode == "walking"
    found = driver.run(4.0)
    assert [(m["n"], m["ok"]) for m in ends(found)] == [(n, True)]
    assert driver.mode == "standing"
    assert 1.0 < ends(found)[0]["time"] - began < 4.5
    assert "command stale" not in words(found)


def test_a_silent_driver_stops_the_walk_within_a_quarter_second(driver: Any) -> None:
    driver.ask("walk", forward=0.05)
    driver.run(1.0)
    last = driver.local.now
    found = driver.run(0.4, alive=False)
    stale = next(m for m in found if m.get("what") == "command stale")
    assert stale["time"] - last <= 0.25 + 1.5 / driver.local.rig.rate
    assert [m["ok"] for m in ends(found)] == [False]


def test_life_after_an_outage_does_not_walk_on(driver: Any) -> None:
    """Only a new order moves the robot again."""
    driver.ask("walk", forward=0.05)
    driver.run(0.5)
    driver.run(0.5, alive=False)
    driver.run(2.0)
    assert driver.mode == "standing"
    assert driver.ask("walk", forward=0.05)["ok"]


def test_what_was_stuck_in_a_dead_connection_is_too_old(driver: Any) -> None:
    """606 stale messages came in one burst after 2 s of silence when this was measured."""
    then = driver.local.now
    driver.run(2.0)
    before = driver.local.service.driving._count
    answers = [driver.reply("walk", forward=0.05, heard=then + 0.003 * i) for i in range(150)]
    assert {(a["ok"], a["word"]) for a in answers} == {(False, "late")}
    assert driver.local.service.driving._count == before
    driver.local.step()
    assert driver.mode == "standing"


def test_a_replayed_number_is_refused_and_recorded(driver: Any) -> None:
    assert driver.ask("stand")["ok"]
    again = driver.say("walk", forward=0.05, n=driver.number - 1)
    assert (again[0]["ok"], again[0]["word"]) == (False, "replayed")
    driver.local.step()
    assert driver.mode == "standing"
    assert any("used already" in record.text for record in driver.local.service.records)


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"ttl": 0.26}, "value"),
        ({"ttl": 0.0}, "value"),
        ({"ttl": -1.0}, "value"),
        ({"heard": 1e9}, "heard"),
        ({"forward": 1e9}, "value"),
        ({"turn": 99.0}, "value"),
        ({"gait": "trpod"}, "value"),
        ({"seconds": -1.0}, "value"),
        ({"height": 0.0}, "value"),
        ({"pose": [9, 0, 0, 0, 0, 0]}, "value"),
    ],
)
def test_a_walk_that_makes_no_sense_is_refused(
    driver: Any, fields: dict[str, object], word: str
) -> None:
    answer = driver.reply("walk", **fields)
    assert (answer["ok"], answer["word"]) == (False, word)
    assert answer["text"]
    driver.local.step()
    assert driver.mode == "standing"


@pytest.mark.parametrize(
    ("type", "fields", "what"),
    [
        ("lift", {"leg": "left-frnt"}, "leg"),
        ("place", {"leg": "left-front", "target": [2.0, 2.0]}, "target"),
        ("probe", {"leg": "left-front", "push": 0.0}, "push"),
        ("probe", {"leg": "left-front", "push": 1e6}, "push"),
    ],
)
def test_a_leg_that_cannot_is_refused(
    driver: Any, type: str, fields: dict[str, object], what: str
) -> None:
    answer = driver.reply(type, **fields)
    assert (answer["ok"], answer["word"], answer["what"]) == (False, "value", what)
    assert "must be" in answer["text"]


def test_a_probe_says_where_and_how_hard(driver: Any) -> None:
    """Referee: what the ground of the physics world pushes with once the probe has ended.

    Current tells force through gears whose friction drifts by up to 30 % and motors whose
    constants scatter by 10 %: half of the legs must be right to 20 %, the worst to 40 %.
    """
    errors = []
    for leg, index in (
        ("left-front", 0),
        ("left-middle", 1),
        ("right-front", 3),
        ("right-rear", 5),
    ):
        driver.ask("probe", leg=leg, push=4.0)
        found: list[Any] = []
        while not ends(found) and len(found) < 2000:
            found += driver.run(0.01)
        (end,) = ends(found)
        assert end["ok"]
        x, y, z = end["foot"]
        assert (x > 0) == leg.endswith("front") or leg.endswith("middle")
        assert (y > 0) == leg.startswith("left") and -0.13 < z < -0.08
        pushed = []
        for _ in range(20):
            driver.run(0.01)
            pushed.append(np.linalg.norm(driver.local.rig.world.truth().force[index]))
        errors.append(abs(end["force"] / np.mean(pushed) - 1.0))
        driver.ask("stand")
        driver.run(2.0)
    assert np.median(errors) < 0.20
    assert max(errors) < 0.40


def test_a_lifted_leg_stays_up_while_its_driver_lives(driver: Any) -> None:
    driver.ask("lift", leg="left-middle")
    found = driver.run(3.0)
    assert [m["ok"] for m in ends(found)] == [True]
    assert not driver.local.runtime.controller.contact[1]
    driver.run(3.0, alive=False)
    assert driver.local.runtime.controller.contact[1]
    assert driver.mode == "standing"


def test_one_order_replaces_another(driver: Any) -> None:
    driver.ask("walk", forward=0.05)
    first = driver.number
    driver.run(0.5)
    found = driver.say("stand") + driver.run(3.0)
    assert [(m["n"], m["ok"], m.get("word", "")) for m in ends(found)] == [
        (first, False, "replaced"),
        (driver.number - len(range(0, 300, 5)), True, ""),
    ]


def test_two_drivers_one_place(driver: Any) -> None:
    other = type(driver)(driver.local)
    refused = other.ask("walk", forward=0.05)
    assert (refused["ok"], refused["word"]) == (False, "not driver")
    assert other.reply("take")["word"] == "taken"
    assert driver.mode == "standing"
    assert any("Somebody else drives" in r.text for r in driver.local.service.records)
    assert driver.reply("hand-over", to=other.id)["ok"]
    assert other.ask("walk", forward=0.05)["ok"]
    assert driver.ask("walk", forward=0.05)["word"] == "not driver"


def test_maintenance_may_take_the_place(driver: Any) -> None:
    other = type(driver)(driver.local)
    assert other.reply("take", force=True)["ok"]
    assert driver.ask("stand")["word"] == "not driver"


def test_the_place_of_a_silent_driver_may_be_taken(driver: Any) -> None:
    other = type(driver)(driver.local)
    driver.run(2.1, alive=False)
    assert other.reply("take")["ok"]


def test_a_watcher_reads_and_stops_but_does_not_move(local: Any, caller: Any) -> None:
    secret, quiet = new_token(), new_token()
    keys = (
        key_for(secret, name="ada", role=Role.DRIVE),
        key_for(quiet, name="guest", role=Role.WATCH),
    )
    robot = local(Doors(keys=keys))
    driver, guest = caller(robot), caller(robot, peer=Peer(address="10.0.0.9"))
    assert driver.reply("take")["word"] == "sign-in"
    assert driver.raw(type="sign-in", token=secret)[0]["role"] == "drive"
    guest.raw(type="sign-in", token=quiet)
    assert driver.reply("take")["ok"]
    robot.step()
    assert driver.ask("power")["ok"] and driver.ask("stand")["ok"]
    assert guest.reply("take")["word"] == "role"
    assert guest.ask("sit")["word"] == "not driver"
    assert guest.reply("subscribe", rate=50.0, fields=["q", "force"])["ok"]
    driver.run(0.2)
    states = [m for m in guest.take() if m["type"] == "state"]
    assert len(states) == 1 and len(states[0]["q"]) == 18, "newest kept, older dropped"
    assert guest.ask("stop", category=2)["ok"]
    driver.run(0.1)
    assert driver.ask("walk", forward=0.05)["word"] == "refused"
    assert driver.ask("acknowledge")["ok"]
    assert driver.ask("walk", forward=0.05)["ok"]


def test_wrong_tokens_close_the_session_and_then_the_address(local: Any, caller: Any) -> None:
    robot = local(Doors(keys=(key_for(new_token(), name="ada", role=Role.DRIVE),)))
    peer = Peer(address="10.0.0.8")
    for _ in range(5):
        stranger = caller(robot, peer=peer)
        (error,) = stranger.raw(type="sign-in", token="x" * 30)
        assert (error["word"], error["fatal"]) == ("sign-in", True)
        assert robot.service.ended(stranger.id)
        assert stranger.raw(type="ping", n=1) == []
    with pytest.raises(LinkError, match="wait"):
        caller(robot, peer=peer)
    caller(robot, peer=Peer(address="10.0.0.9"))
    assert sum(record.word == "refused" for record in robot.service.records) == 6


def test_hello_comes_first(local: Any, caller: Any) -> None:
    robot = local()
    rude = caller(robot, hello=False)
    assert rude.reply("take")["word"] == "version"
    assert rude.raw(type="hello", version=0)[0]["word"] == "version"
    assert robot.service.ended(rude.id)
    newer = caller(robot, hello=False)
    assert newer.raw(type="hello", version=9)[0]["version"] == 1


def test_strangers_leave_room_for_others(local: Any, caller: Any) -> None:
    robot = local(Doors(keys=(key_for(new_token(), name="ada", role=Role.DRIVE),)))
    here, there = Peer(address="10.0.0.8"), Peer(address="10.0.0.9")
    for _ in range(8):
        caller(robot, peer=here)
    with pytest.raises(LinkError, match="not signed in yet"):
        caller(robot, peer=here)
    caller(robot, peer=there)
    for _ in range(1101):
        robot.step()
    caller(robot, peer=here)
    assert sum(not session.ended for session in robot.service._sessions.values()) == 1


def test_a_stop_wins_over_limits_and_numbers(driver: Any) -> None:
    driver.ask("walk", forward=0.05)
    for _ in range(300):
        driver.raw(type="ping", n=1)
    driver.raw(type="stop", category=0)
    driver.local.step()
    assert driver.mode == "fault"
    assert not driver.local.rig.drives().powered.any()


def test_an_abandoned_robot_sits_down_and_switches_off(driver: Any) -> None:
    driver.local.service.close(driver.id, driver.local.now)
    for _ in range(int(36 * driver.local.rig.rate)):
        report = driver.local.step()
    assert report.mode.value == "fault"
    assert not report.drives.powered.any()


def test_sessions_streams_and_names_are_bounded(local: Any, caller: Any) -> None:
    robot = local()
    callers = [caller(robot) for _ in range(64)]
    with pytest.raises(LinkError, match="64 connections"):
        caller(robot)
    robot.service.close(callers[-1].id, robot.now)
    one = callers[0]
    for k in range(4):
        assert one.reply("subscribe", stream=f"s{k}")["ok"]
    assert one.reply("subscribe", stream="s4")["word"] == "limit"
    assert one.reply("subscribe", stream="s0", rate=0)["what"] == "rate"
    assert one.reply("subscribe", stream="s0", depth=1000)["what"] == "depth"
    assert one.reply("subscribe", stream="s0", fields=["secrets"])["what"] == "fields"
    flooded = [one.raw(type="ping", n=10 + k) for k in range(300)]
    assert flooded[-1] == [] and robot.service.ended(one.id)
