"""The endpoint on loopback: clients, TLS, tokens, certificates, origins, loss."""

from __future__ import annotations

import asyncio
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus

import legwright as lw
from legwright.errors import LinkError, RequestError
from legwright.remote.certificates import Pair, issue, make_authority
from legwright.remote.hosting import hosted
from legwright.remote.server import Tls, check_exposure
from legwright.remote.sign_in import Doors, Guest, Role, key_for, new_token

TOP = Path(__file__).parents[2]
TOKEN = new_token()
KEYED = Doors(keys=(key_for(TOKEN, name="ada", role=Role.DRIVE),))
OPEN = Doors(open_to=Role.MAINTAIN)


@pytest.fixture(scope="session")
def papers(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Pair]:
    """Certificates of one authority, in one folder."""
    folder = tmp_path_factory.mktemp("papers")
    make_authority(folder, name="rook")

    def get(name: str, **more: Any) -> Pair:
        return issue(folder, name=name, **more)

    return get


def test_a_program_drives_over_the_network(local: Any) -> None:
    async def drive() -> tuple[str, float]:
        async with (
            hosted(local(KEYED)) as address,
            lw.connect_async(address, token=TOKEN) as robot,
        ):
            await robot.stand()
            await robot.walk(forward=0.05, seconds=1)
            seen = await robot.watch(rate=50, seconds=0.5, fields=("q",))
            assert seen.q.shape == (26, 18)
            return robot.state.mode, float(robot.state.place[0])

    mode, x = asyncio.run(drive())
    assert mode == "standing" and x > 0.005


def test_tls_with_a_token(local: Any, papers: Any) -> None:
    server = papers("robot", hosts=("127.0.0.1", "rook.local"))
    tls = Tls(certificate=server.certificate, key=server.key)

    async def go() -> None:
        async with hosted(local(KEYED), tls=tls) as address:
            authority = server.certificate.parent / "authority.pem"
            with pytest.raises(LinkError, match="Pass authority=") as caught:
                await lw.connect_async(address, token=TOKEN)
            assert caught.value.word == "certificate"
            with pytest.raises(LinkError, match="opens nothing here"):
                await lw.connect_async(address, token="x" * 43, authority=authority)
            with pytest.raises(LinkError, match="pass token="):
                await lw.connect_async(address, authority=authority)
            async with lw.connect_async(address, token=TOKEN, authority=authority) as robot:
                assert robot.role == "drive" and robot.drives

    asyncio.run(go())


def test_a_client_certificate_opens(local: Any, papers: Any) -> None:
    server = papers("robot", hosts=("127.0.0.1",))
    authority = server.certificate.parent / "authority.pem"
    tls = Tls(certificate=server.certificate, key=server.key, clients=authority)
    doors = Doors(certificates={"ada": Guest(name="ada", role=Role.DRIVE)})
    ada, stranger = papers("ada"), papers("stranger")
    late = papers("ada-late", days=-1)
    robot = local(doors)

    async def go() -> None:
        async with hosted(robot, tls=tls) as address:

            async def enter(pair: Pair) -> None:
                files = (pair.certificate, pair.key)
                async with lw.connect_async(
                    address, certificate=files, authority=authority
                ) as robot:
                    assert robot.driver == "ada"

            await enter(ada)
            with pytest.raises(LinkError, match="wants to know who you are"):
                await enter(stranger)
            with pytest.raises(LinkError, match="expired") as caught:
                await enter(late)
            assert caught.value.word == "certificate"

    asyncio.run(go())
    notes = [record.text for record in robot.service.records if record.word == "refused"]
    assert any("TLS handshake: certificate verify failed" in note for note in notes), notes


def test_an_expired_robot_is_not_trusted(local: Any, papers: Any) -> None:
    server = papers("old-robot", hosts=("127.0.0.1",), days=-1)
    tls = Tls(certificate=server.certificate, key=server.key)

    async def go() -> None:
        async with hosted(local(KEYED), tls=tls) as address:
            authority = server.certificate.parent / "authority.pem"
            with pytest.raises(LinkError, match=r"expired.*renew it on the robot"):
                await lw.connect_async(address, token=TOKEN, authority=authority)

    asyncio.run(go())


@pytest.mark.parametrize(
    "origin", ["https://elsewhere.example", "null", "http://127.0.0.1:1", "http://[::1"]
)
def test_a_foreign_page_is_kept_out(local: Any, origin: str) -> None:
    robot = local(OPEN)

    async def go() -> None:
        async with hosted(robot) as address:
            with pytest.raises(InvalidStatus, match="403"):
                await connect(f"{address}/robot", origin=origin)
            own = address.replace("ws://", "http://")
            async with connect(f"{address}/robot", origin=own) as line:
                await line.send(json.dumps({"type": "hello", "version": 1}))
                assert json.loads(await line.recv())["type"] == "welcome"

    asyncio.run(go())
    assert any("foreign" in record.text for record in robot.service.records)


def test_a_name_that_was_made_to_lead_here_is_no_own_page(local: Any) -> None:
    """DNS rebinding: origin and host agree, yet neither is ours."""

    async def go() -> None:
        async with hosted(local(OPEN)) as address:
            port = address.rsplit(":", 1)[1]
            evil = f"rebound.example:{port}"
            with pytest.raises(InvalidStatus, match="403"):
                await connect(
                    f"ws://{evil}/robot", origin=f"http://{evil}", host="127.0.0.1", port=int(port)
                )

    asyncio.run(go())


def test_nothing_listens_beyond_loopback_without_a_secret() -> None:
    with pytest.raises(RequestError, match="while no key is set"):
        check_exposure("0.0.0.0", locked=False, tls=None)
    with pytest.raises(RequestError, match="without TLS"):
        check_exposure("192.168.1.7", locked=True, tls=None)
    check_exposure("127.0.0.1", locked=False, tls=None)
    check_exposure("::1", locked=False, tls=None)
    tls = Tls(certificate=Path("a"), key=Path("b"))
    check_exposure("0.0.0.0", locked=True, tls=tls)


def test_a_cut_connection_ends_the_walk_and_the_session(local: Any) -> None:
    robot = local(OPEN)

    async def go() -> None:
        async with hosted(robot) as address:
            client = await lw.connect_async(address)
            await client.stand()
            await client.walk(forward=0.05)
            await asyncio.sleep(0.3)
            assert robot.runtime.watch.mode.value == "walking"
            client._link._line._connection.transport.abort()  # type: ignore[attr-defined]
            await asyncio.sleep(0.6)
            assert robot.runtime.watch.command.kind.value == "stand"
            assert not robot.service._sessions
            with pytest.raises(LinkError, match="Connect anew"):
                await client.stand()
            await client.close()

    asyncio.run(go())


def test_an_address_where_nothing_is_says_so() -> None:
    with pytest.raises(LinkError, match=r"Nothing listens at 127\.0\.0\.1:9"):
        lw.connect("ws://127.0.0.1:9")


def test_rubbish_on_the_real_endpoint_moves_nothing(local: Any) -> None:
    robot = local(OPEN)

    async def go() -> None:
        async with hosted(robot) as address:
            for rubbish in (
                "",
                "{",
                "[]",
                "null",
                '{"type":"walk"}',
                "\x00",
                b"\xff\xfe",
                "9" * 99,
            ):
                async with connect(f"{address}/robot") as line:
                    for _ in range(25):
                        await line.send(rubbish)
                    with pytest.raises(Exception, match=r"1008|policy"):
                        while True:
                            await asyncio.wait_for(line.recv(), 5)
            async with connect(f"{address}/robot") as line:
                await line.send("x" * 300_000)
                with pytest.raises(Exception, match=r"1009|too big"):
                    await asyncio.wait_for(line.recv(), 5)

    asyncio.run(go())
    assert robot.runtime.watch.mode.value == "limp"


@pytest.mark.skipif(shutil.which("node") is None, reason="there is no node here")
def test_a_client_in_another_language(local: Any) -> None:
    """examples/client.js: sixty lines that know nothing but docs/protocol.md."""
    script = TOP / "examples" / "client.js"
    assert len(script.read_text("utf-8").splitlines()) <= 60

    async def go() -> tuple[int | None, str, str]:
        async with hosted(local(KEYED)) as address:
            program = await asyncio.create_subprocess_exec(
                "node", "--experimental-websocket", str(script), address, TOKEN,
                stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            )  # fmt: skip
            out, errors = await asyncio.wait_for(program.communicate(), 90)
            return program.returncode, out.decode(), errors.decode()

    code, out, errors = asyncio.run(go())
    assert code == 0, errors
    assert "touched at" in out
    assert "command stale" not in out
