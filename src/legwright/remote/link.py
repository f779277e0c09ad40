"""A client's end of the wire: numbers, answers, streams, and the renewal of motion."""

from __future__ import annotations

import asyncio
import contextlib
from collections import deque
from collections.abc import AsyncIterator, Coroutine
from math import inf
from typing import Any, TypeAlias, TypeVar

import msgspec

from legwright.errors import LinkError, RequestError
from legwright.remote import asked, said
from legwright.remote.line import Line
from legwright.remote.wire import frame
from legwright.remote.wire import said as read

PULSE, PULSE_RATE = "pulse", 20.0
"""The stream that every link has, and its rate [Hz]: state, loss, and the beat of renewal."""
KEPT = 1000
"""Events that wait to be read."""
PATIENCE = 2.0
"""Silence after which the robot counts as lost [s]."""
T = TypeVar("T")
Awaited: TypeAlias = Coroutine[Any, Any, T] | asyncio.Future[T]


class Link:
    """One session with a robot."""

    def __init__(self, line: Line, *, patience: float | None) -> None:
        """Get ready; `open` says hello.

        Args:
            line: Carries the frames.
            patience: Silence after which the robot counts as lost; None for a robot in this
                process [s].
        """
        self._line, self._patience = line, patience
        self._number = 0
        self._waits = 0
        self._reader: asyncio.Task[None] | None = None
        self._answers: dict[int, asyncio.Future[said.Answer]] = {}
        self._ends: dict[int, asyncio.Future[said.Ended]] = {}
        self._streams: dict[str, asyncio.Queue[said.State]] = {}
        self._events: deque[said.Event] = deque(maxlen=KEPT)
        self._happened = asyncio.Event()
        self.lost: LinkError | None = None
        """Why it ended, if it did."""
        self._first: asyncio.Future[said.Welcome] = asyncio.get_running_loop().create_future()
        self._signed: asyncio.Future[said.Signed] = asyncio.get_running_loop().create_future()
        self._beat = asyncio.Event()
        self.heard = 0.0
        """Newest robot time [s]."""
        self.state: said.State | None = None
        self.driver = said.Driver(session="", name="", time=0.0)
        self.welcome: said.Welcome
        self.role = ""

    # Coming and going ---------------------------------------------------------------------

    async def open(self, *, token: str | None, client: str) -> None:
        """Say hello, sign in, and wait for the first state.

        Raises:
            LinkError: If the robot does not want to.
        """
        self._reader = asyncio.create_task(self._read())
        await self._line.send(frame(asked.Hello(version=asked.VERSION, client=client)))
        self.welcome = await self.wait(self._first)
        self.role = self.welcome.role
        if token is not None and not self.role:
            await self._line.send(frame(asked.SignIn(token=token)))
            self.role = (await self.wait(self._signed)).role
        if not self.role:
            text = "The robot wants to know who you are: pass token=… or certificate=…."
            raise LinkError("sign-in", text)
        await self.ask(asked.Subscribe(n=0, stream=PULSE, rate=PULSE_RATE, fields=said.FIELDS))
        await self.wait(self._beat.wait())

    async def close(self) -> None:
        """Leave."""
        self._fail(LinkError("lost", "The connection is closed. Connect anew."))
        if self._reader is not None:
            self._reader.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._reader
        await self._line.close()

    @property
    def drives(self) -> bool:
        """Whether this session has the driver's place."""
        return self.driver.session == self.welcome.session

    # Asking -------------------------------------------------------------------------------

    async def ask(self, message: asked.Numbered) -> int:
        """Send a message and wait until it is taken up.

        Returns:
            Its number.

        Raises:
            LinkError: Where it is refused, or the robot is lost.
            RequestError: Where a value of it makes no sense.
        """
        numbered = self._number_it(message)
        future: asyncio.Future[said.Answer] = asyncio.get_running_loop().create_future()
        self._answers[numbered.n] = future
        try:
            await self._line.send(frame(numbered))
            answer = await self.wait(future)
        finally:
            self._answers.pop(numbered.n, None)
        if not answer.ok:
            if answer.what:
                value = getattr(message, answer.what, answer.value)
                raise RequestError(answer.what, value, answer.allowed)
            raise LinkError(answer.word, answer.text)
        return numbered.n

    async def carry_out(self, message: asked.Timed) -> said.Ended:
        """Ask for a motion and wait until it has ended.

        Raises:
            LinkError: Where it is refused, or ends badly.
            RequestError: Where a value of it makes no sense.
        """
        number = await self.begin(message)
        return await self.finish(number)

    async def begin(self, message: asked.Timed) -> int:
        """Ask for a motion; its number, for `finish`."""
        future: asyncio.Future[said.Ended] = asyncio.get_running_loop().create_future()
        number = self._number + 1
        self._ends[number] = future
        for old in [n for n, f in self._ends.items() if n != number and f.done()]:
            del self._ends[old]
        try:
            return await self.ask(message)
        except BaseException:
            self._ends.pop(number, None)
            raise

    async def finish(self, number: int) -> said.Ended:
        """Wait until a motion has ended.

        Raises:
            LinkError: Where it ends badly.
        """
        try:
            ended = await self.wait(self._ends[number], patient=True)
        finally:
            self._ends.pop(number, None)
        while self.state is not None and self.state.time < ended.time:
            await self.moved()
        if not ended.ok:
            raise LinkError(ended.word, ended.text)
        return ended

    def _number_it(self, message: asked.Numbered) -> asked.Numbered:
        self._number += 1
        changed: dict[str, Any] = {"n": self._number}
        if isinstance(message, asked.Timed):
            changed["heard"] = self.heard
        return msgspec.structs.replace(message, **changed)

    async def wait(
        self, what: Coroutine[Any, Any, T] | asyncio.Future[T], *, patient: bool = False
    ) -> T:
        """Wait for something that the robot is to bring.

        Args:
            what: It.
            patient: Whether it may take long, as long as the robot is heard.

        Raises:
            LinkError: If the robot is lost.
        """
        if self.lost is not None:
            if asyncio.iscoroutine(what):
                what.close()
            raise self.lost
        self._waits += 1
        self._line.wanted(True)
        limit = None if patient else self._patience
        try:
            return await asyncio.wait_for(self._or_lost(what), limit)
        except TimeoutError:
            text = f"The robot did not answer within {limit:g} s. Look at network and robot."
            raise LinkError("lost", text) from None
        finally:
            self._waits -= 1
            if not self._waits:
                self._line.wanted(False)

    async def _or_lost(self, what: Awaited[T]) -> T:
        task = asyncio.ensure_future(what)
        reader = self._reader
        if reader is None:
            return await task
        try:
            await asyncio.wait({task, reader}, return_when=asyncio.FIRST_COMPLETED)
        except asyncio.CancelledError:
            task.cancel()
            raise
        if task.done():
            return task.result()
        task.cancel()
        raise self.lost or LinkError("lost", "The connection to the robot ended.")

    # Reading ------------------------------------------------------------------------------

    async def _read(self) -> None:
        """Take in all that comes, until the line ends."""
        try:
            while True:
                async with asyncio.timeout(self._patience):
                    text = await self._line.receive()
                message = _understood(text)
                if message is not None:
                    await self._take(message)
        except TimeoutError:
            text = f"Nothing was heard from the robot for {self._patience:g} s. Connect anew."
            self._fail(LinkError("lost", text))
        except LinkError as error:
            self._fail(error)

    async def _take(self, message: said.AnySaid) -> None:
        time = getattr(message, "time", None)
        if time is not None:
            self.heard = max(self.heard, time)
        if isinstance(message, said.State):
            await self._state(message)
        elif isinstance(message, said.Answer):
            _settle(self._answers.get(message.n), message)
        elif isinstance(message, said.Ended):
            _settle(self._ends.get(message.n), message)
        elif isinstance(message, said.Event):
            self._events.append(message)
            self._happened.set()
        elif isinstance(message, said.Driver):
            self.driver = message
        elif isinstance(message, said.Welcome):
            _settle(self._first, message)
        elif isinstance(message, said.Signed):
            _settle(self._signed, message)
        elif isinstance(message, said.Error):
            if message.fatal or not self._first.done() or not self.role:
                raise LinkError(message.word, message.text)
            told = said.Event(time=self.heard, what="error", text=message.text)
            self._events.append(told)

    async def _state(self, message: said.State) -> None:
        if message.stream != PULSE:
            queue = self._streams.get(message.stream)
            if queue is not None:
                queue.put_nowait(message)
            return
        self.state = message
        self._beat.set()
        if self.drives:
            alive = self._number_it(asked.Alive(n=0, heard=0.0))
            await self._line.send(frame(alive))

    def _fail(self, error: LinkError) -> None:
        self.lost = self.lost or error

    # Streams and events -------------------------------------------------------------------

    async def stream(
        self, *, rate: float, seconds: float, fields: tuple[str, ...]
    ) -> list[said.State]:
        """All states of some seconds of robot time."""
        name = f"watch {self._number + 1}"
        queue = self._streams[name] = asyncio.Queue()
        try:
            await self.ask(asked.Subscribe(n=0, stream=name, rate=rate, fields=fields, depth=256))
            found = [await self.wait(queue.get())]
            while found[-1].time - found[0].time < seconds - 0.5 / rate:
                found.append(await self.wait(queue.get()))
        finally:
            del self._streams[name]
        await self.ask(asked.Unsubscribe(n=0, stream=name))
        return found

    async def events(self, seconds: float = inf) -> AsyncIterator[said.Event]:
        """Events as they come, for some seconds of robot time; first those that waited."""
        end = self.heard + seconds
        while True:
            while self._events:
                yield self._events.popleft()
            if self.heard >= end:
                return
            self._happened.clear()
            self._beat.clear()
            await self.wait(self._next(), patient=True)

    async def _next(self) -> None:
        """Until an event or a beat has come."""
        waits = {asyncio.ensure_future(e.wait()) for e in (self._happened, self._beat)}
        try:
            await asyncio.wait(waits, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for wait in waits:
                wait.cancel()

    async def moved(self) -> None:
        """Wait for the next beat."""
        self._beat.clear()
        await self.wait(self._beat.wait())

    async def stop(self, category: int) -> None:
        """Stop."""
        message: Any = asked.Stop(n=0, category=category)  # type: ignore[arg-type]
        await self.ask(message)


def _understood(text: str) -> said.AnySaid | None:
    """A message, or None where a newer robot says more than we know."""
    try:
        return read(text)
    except LinkError:
        return None


def _settle(future: asyncio.Future[T] | None, value: T) -> None:
    if future is not None and not future.done():
        future.set_result(value)
