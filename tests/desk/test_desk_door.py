"""Who may come in: hosts, pages, people."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from legwright.errors import LegwrightError
from legwright.remote.sign_in import Doors, Role, key_for, new_token
from legwright.views.desk.door import TRIES, Door

TOKEN = new_token()
LOCKED = Doors(keys=(key_for(TOKEN, name="thrush", role=Role.DRIVE),))
WATCHER = new_token()


async def _inner(scope: Any, receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"the desk"})


def ask(
    door: Door, *, host: str = "127.0.0.1:80", origin: str = "", cookie: str = "",
    path: str = "/", method: str = "GET", body: bytes = b"", kind: str = "http",
) -> list[dict[str, Any]]:  # fmt: skip
    headers = {"host": host, "origin": origin, "cookie": cookie}
    scope = {
        "type": kind, "path": path, "method": method, "scheme": "http", "query_string": b"",
        "headers": [(k.encode(), v.encode()) for k, v in headers.items() if v],
    }  # fmt: skip
    told: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        told.append(message)

    asyncio.run(door.around(_inner)(scope, receive, send))
    return told


def headers(told: list[dict[str, Any]]) -> dict[str, str]:
    return {k.decode().lower(): v.decode() for k, v in told[0]["headers"]}


@pytest.mark.parametrize(
    "host",
    ["", "elsewhere.example", "10.0.0.7:80", "127.0.0.1.example", "[::1", "localhost.example"],
)
def test_a_name_that_was_made_to_lead_here_is_turned_away(host: str) -> None:
    assert ask(Door(), host=host)[0]["status"] == 403
    assert ask(Door(), host=host, kind="websocket")[0]["type"] == "websocket.close"


@pytest.mark.parametrize("host", ["127.0.0.1:8417", "localhost:8417", "[::1]:8417", "localhost"])
def test_this_machine_may_come_in_with_its_own_page_only(host: str) -> None:
    assert ask(Door(), host=host)[0]["status"] == 200
    assert ask(Door(), host=host, origin=f"http://{host}", kind="websocket")[0]["status"] == 200
    for origin in ("http://elsewhere.example", "null", f"http://{host}.example", "http://[::1"):
        assert ask(Door(), host=host, origin=origin, kind="websocket")[0]["type"] != (
            "http.response.start"
        )


def test_pages_may_load_from_no_other_host() -> None:
    policy = headers(ask(Door()))["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "http:" not in policy
    assert "*" not in policy


def test_a_locked_desk_asks_for_a_token_and_remembers_who_had_it() -> None:
    door = Door(host="0.0.0.0", doors=LOCKED)
    here = "192.168.0.7:8417"
    told = ask(door, host=here)
    assert told[0]["status"] == 401
    assert b"This desk is locked" in told[1]["body"]
    assert ask(door, host=here, kind="websocket")[0]["type"] == "websocket.close"
    assert ask(door, host=here, path="/drawing/schematic.svg")[0]["status"] == 401
    wrong = ask(door, host=here, path="/sign-in", method="POST", body=b"token=x")
    assert wrong[0]["status"] == 401
    right = ask(door, host=here, path="/sign-in", method="POST", body=f"token={TOKEN}".encode())
    assert right[0]["status"] == 303
    set_cookie = headers(right)["set-cookie"].lower()
    assert "httponly" in set_cookie
    assert "samesite=strict" in set_cookie
    assert TOKEN.lower() not in set_cookie
    cookie = headers(right)["set-cookie"].split(";")[0]
    assert ask(door, host=here, cookie=cookie)[0]["status"] == 200
    assert ask(door, host=here, cookie=cookie, kind="websocket")[0]["status"] == 200
    assert ask(door, host=here, cookie=cookie[:-1])[0]["status"] == 401
    assert ask(door, host=here, cookie="legwright-desk=; ,;=\x01")[0]["status"] == 401
    other = ask(door, host=here, origin="http://elsewhere.example", cookie=cookie)
    assert other[0]["status"] == 403


def test_guessing_ends() -> None:
    door = Door(host="0.0.0.0", doors=LOCKED)
    for _ in range(TRIES):
        ask(door, host="10.0.0.7", path="/sign-in", method="POST", body=b"token=" + b"y" * 3000)
    body = f"token={TOKEN}".encode()
    assert ask(door, host="10.0.0.7", path="/sign-in", method="POST", body=body)[0]["status"] == 401


def test_who_may_only_watch_a_robot_does_not_edit_it() -> None:
    doors = Doors(keys=(key_for(WATCHER, name="guest", role=Role.WATCH),))
    body = f"token={WATCHER}".encode()
    door = Door(host="0.0.0.0", doors=doors)
    assert ask(door, host="10.0.0.7", path="/sign-in", method="POST", body=body)[0]["status"] == 401


def test_nothing_listens_beyond_this_machine_without_keys_and_tls() -> None:
    from legwright.views.desk.serving import desk_listening

    async def scene(doors: Doors | None) -> None:
        async with desk_listening(None, host="0.0.0.0", doors=doors):  # type: ignore[arg-type]
            pass

    for doors, words in ((None, "no key is set"), (LOCKED, "TLS")):
        with pytest.raises(LegwrightError, match=words):
            asyncio.run(scene(doors))
