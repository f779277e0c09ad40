"""The door of the desk: which hosts, which pages, which people.

On loopback everybody on this machine may come in while no key is set. Elsewhere, or once a key
is set, a token signs a browser in; what it gets is a cookie of this run that no script can read
and no other site can use.
"""

from __future__ import annotations

import contextlib
import ipaddress
import secrets
import socket
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs, urlsplit

from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from legwright.remote.server import POLICY, is_loopback
from legwright.remote.sign_in import Doors, Role

App = Callable[[Any, Any, Any], Awaitable[None]]

COOKIE = "legwright-desk"
SIGN_IN = "/sign-in"
MOST_GUESTS = 64
"""Browsers that are signed in at once; the longest signed in has to do it again."""
LARGEST_FORM = 1024
"""Of a sign-in [byte]."""
TRIES = 20
"""Wrong tokens, after which nobody is signed in any more until the desk is started again."""
HEADERS = (
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
        b"img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; "
        b"worker-src 'self' blob:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
FORM = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Sign in</title>
<meta name="viewport" content="width=device-width"><style>
:root{color-scheme:light dark}body{font:16px Charter,Georgia,serif;max-width:32em;margin:4em auto;
padding:0 1em}input,button{font:inherit;padding:.7em;border:1px solid;border-radius:0;
background:none;color:inherit}input{width:100%;box-sizing:border-box;margin:.5em 0 1em}</style>
</head><body><h1>This desk is locked</h1><p>WHY</p><form method="post" action="/sign-in">
<label>Token, as <code>legwright key add NAME</code> printed it
<input name="token" type="password" autocomplete="current-password" autofocus required></label>
<button>Sign in</button></form></body></html>
"""
ASK = "Sign in to look at the robot, change it and drive it."
WRONG = "That token opens nothing here. Look at it again, or make one: legwright key add NAME."


class Door:
    """Decides who comes in; one for each desk that is served."""

    def __init__(self, *, host: str = "127.0.0.1", doors: Doors | None = None) -> None:
        """Get ready.

        Args:
            host: Address that is listened at.
            doors: Keys; everybody on this machine may come in when there is none.
        """
        self._doors = doors if doors is not None else Doors(open_to=Role.MAINTAIN)
        self._local = is_loopback(host)
        name = socket.gethostname()
        self._names = {name, f"{name}.local"}
        self._guests: OrderedDict[str, None] = OrderedDict()
        self._wrong = 0

    def around(self, app: App) -> App:
        """An application that only those hear who may come in."""

        async def door(scope: Any, receive: Any, send: Any) -> None:
            if scope["type"] not in ("http", "websocket"):
                await app(scope, receive, send)
                return
            headers = {
                key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]
            }
            inner = self._answer(scope, headers) or app

            async def sending(message: Any) -> None:
                if message["type"] == "http.response.start":
                    message["headers"] = [*message.get("headers", ()), *HEADERS]
                await send(message)

            await inner(scope, receive, sending)

        return door

    def _answer(self, scope: Any, headers: Mapping[str, str]) -> App | None:
        """What a request is answered with that may not pass; None where it may."""
        host, origin = headers.get("host", ""), headers.get("origin", "")
        if not self._ours(host) or (origin and _place(origin) != host):
            return _turned_away
        if not self._doors.locked or self._known(headers.get("cookie", "")):
            return None
        if scope["type"] == "websocket":
            return _turned_away
        if scope["path"] == SIGN_IN and scope["method"] == "POST":
            return self._sign_in
        return HTMLResponse(FORM.replace("WHY", ASK), 401, {"cache-control": "no-store"})

    def _ours(self, host: str) -> bool:
        """Whether a host's name is truly this machine's: no name that was made to lead here."""
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:  # what looks like an address and is none
            return False
        if is_loopback(name):
            return True
        if self._local:
            return False
        with contextlib.suppress(ValueError):
            ipaddress.ip_address(name)
            return True
        return name in self._names

    def _known(self, cookies: str) -> bool:
        with contextlib.suppress(CookieError):
            found = SimpleCookie(cookies).get(COOKIE)
            return found is not None and found.value in self._guests
        return False

    async def _sign_in(self, scope: Any, receive: Any, send: Any) -> None:
        await (await self._signed(scope, receive))(scope, receive, send)

    async def _signed(self, scope: Any, receive: Any) -> Response:
        """Take a token; a browser that shows a right one is known from now on."""
        body = b""
        while True:
            message = await receive()
            body += message.get("body", b"")
            if not message.get("more_body") or len(body) > LARGEST_FORM:
                break
        try:
            token = parse_qs(body[:LARGEST_FORM].decode("utf-8")).get("token", [""])[0]
        except (UnicodeDecodeError, ValueError):
            token = ""
        guest = self._doors.by_token(token) if self._wrong < TRIES else None
        if guest is None or guest.role < Role.DRIVE:
            self._wrong += 1
            return HTMLResponse(FORM.replace("WHY", WRONG), 401, {"cache-control": "no-store"})
        name = secrets.token_urlsafe(32)
        self._guests[name] = None
        while len(self._guests) > MOST_GUESTS:
            self._guests.popitem(last=False)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            COOKIE, name, httponly=True, samesite="strict", secure=scope["scheme"] == "https"
        )
        return answer


def _place(origin: str) -> str:
    """Host and port of an origin; nothing for what is none."""
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return ""


async def _turned_away(scope: Any, receive: Any, send: Any) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": POLICY})
        return
    text = "This address belongs to another program or page: open the one the desk printed.\n"
    await PlainTextResponse(text, status_code=403)(scope, receive, send)
