"""The service: sessions, roles, the driver's place; messages in, requests out.

It has no socket, no clock and no thread. Its host opens and closes sessions, passes on frames
and the robot's reports with the time, and takes the requests; so the robot may run in this
process or behind the hand-over of the control process, and a test can throw anything at it.
All calls come from one thread; times are the robot's steady clock.
"""

from __future__ import annotations

import secrets
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from legwright.errors import LinkError, RequestError
from legwright.remote import asked, said
from legwright.remote.driving import Driving, LapsedError
from legwright.remote.entrance import Entrance
from legwright.remote.orders import Orders
from legwright.remote.readings import Readings, card_of
from legwright.remote.session import ALLOWANCE, Bucket, Peer, Session, Stream
from legwright.remote.sign_in import Doors, Guest, Role
from legwright.remote.wire import asked as read
from legwright.remote.wire import frame
from legwright.rig.request import Request
from legwright.rig.runtime import Report
from legwright.robot.robot import Robot

PATIENCE = 20
"""Messages without sense after which a session ends."""
STREAMS, DEEPEST = 4, 256
"""Streams of one session, and how many messages of one may wait."""
UNSIGNED = 10.0
"""A session that has not signed in after so long ends [s]."""
LONGEST_NAME = 64
"""Characters of a stream's or a program's name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Something worth keeping in the log."""

    time: float
    word: str
    text: str


class Service:
    """Everything between the wire and the robot."""

    def __init__(
        self,
        robot: Robot,
        *,
        rate: float,
        real: bool = False,
        doors: Doors | None = None,
        sessions: int = 64,
    ) -> None:
        """Get ready; nobody is there yet.

        Args:
            robot: The robot.
            rate: Its bus cycles per second [Hz].
            real: Whether something moves that can hurt.
            doors: All ways in; open to everybody in this process when None.
            sessions: How many connections there may be.
        """
        self.orders = Orders(robot, rate=rate)
        self.readings = Readings(robot)
        self.card = card_of(robot, rate=rate, real=real, gaits=tuple(self.orders.gaits))
        self.doors = doors if doors is not None else Doors(open_to=Role.MAINTAIN)
        self.driving = Driving(self.orders, self.readings)
        self.records: deque[Record] = deque(maxlen=10_000)
        self.entrance = Entrance(sessions)
        self._sessions: dict[str, Session] = {}
        self._report: Report | None = None

    # What the host calls ------------------------------------------------------------------

    def open(
        self, now: float, *, peer: Peer | None = None, wake: Callable[[], None] = lambda: None
    ) -> str:
        """A connection came.

        Args:
            now: Robot time [s].
            peer: Where from.
            wake: Called when something waits to be sent.

        Returns:
            Its session.

        Raises:
            LinkError: Word ``busy`` where there are too many already, ``sign-in`` where that
                address tried too often.
        """
        peer = peer or Peer()
        try:
            self.entrance.check(peer, self._sessions.values(), now)
        except LinkError as error:
            self.note(now, "refused", f"{peer.address}: {error}")
            raise
        bucket = Bucket(rate=ALLOWANCE, level=ALLOWANCE, at=now)
        session = Session(
            id=secrets.token_hex(4), peer=peer, wake=wake, bucket=bucket, heard=now, opened=now
        )
        guest = self.doors.by_certificate(peer.certificate) if peer.certificate else None
        if guest is not None:
            self._admit(session, guest, now)
        elif self.doors.open_to is not Role.NONE:
            session.role, session.name = self.doors.open_to, "local"
        self._sessions[session.id] = session
        return session.id

    def receive(self, id: str, text: str | bytes, now: float) -> None:
        """A frame came; whatever it holds, this never raises."""
        session = self._sessions.get(id)
        if session is None:
            return
        session.heard = now
        try:
            message = read(text)
        except LinkError as error:
            self._senseless(session, error, now)
            return
        if not isinstance(message, asked.Stop):  # a stop always counts
            if session.ended:
                return
            if not session.bucket.takes(now):
                text = f"More than {ALLOWANCE:g} messages a second. Send fewer."
                self._senseless(session, LinkError("limit", text), now)
                return
        self._take(session, message, now)

    def report(self, report: Report) -> None:
        """The robot ended a cycle."""
        self._report = report
        for message, to in self.driving.see(report):
            self._say(to, message)
        for notice in report.notices:
            event = said.Event(time=report.time, what=notice.word, text=notice.text)
            self._broadcast(event)
        for happening in report.events:
            self._broadcast(self.readings.event(report, happening))
        self._stream(report)

    def requests(self) -> list[Request]:
        """Take the requests for the robot."""
        return self.driving.requests()

    def drain(self, id: str) -> list[str]:
        """Take the frames that wait for a session."""
        session = self._sessions.get(id)
        return session.drain() if session is not None else []

    def ended(self, id: str) -> bool:
        """Whether a session is over, and its connection to be closed."""
        session = self._sessions.get(id)
        return session is None or session.ended

    def close(self, id: str, now: float) -> None:
        """A connection went."""
        session = self._sessions.pop(id, None)
        if session is None:
            return
        if self.driving.leave(id):
            self.note(now, "driver", f"{session.who} is gone; nobody drives.")
            self._broadcast(self._driver(now))

    def driver_silent(self, now: float) -> bool:
        """Whether the robot has power and nobody who drives it is heard: a fault's cause."""
        session = self._sessions.get(self.driving.driver)
        heard = session.heard if session is not None else None
        return self.driving.silent(now, heard, self._report)

    @property
    def driver_name(self) -> str:
        """Who drives; empty where nobody does."""
        session = self._sessions.get(self.driving.driver)
        return session.name if session is not None else ""

    def announce(self, now: float, word: str, text: str) -> None:
        """Tell everybody, and keep it in the log."""
        self.note(now, word, text)
        self._broadcast(said.Event(time=now, what=word, text=text))

    def note(self, now: float, word: str, text: str) -> None:
        """Keep something in the log."""
        self.records.append(Record(time=now, word=word, text=text))

    # What messages do ---------------------------------------------------------------------

    def _take(self, session: Session, message: asked.AnyAsked, now: float) -> None:
        if isinstance(message, asked.Hello):
            self._greet(session, message, now)
        elif not session.greeted:
            text = "Say `hello` with your version first."
            self._refuse(session, message, LinkError("version", text), now)
        elif isinstance(message, asked.SignIn):
            self._sign_in(session, message, now)
        elif session.role is Role.NONE:
            text = "Sign in first: send `sign-in` with your token."
            self._refuse(session, message, LinkError("sign-in", text), now)
        elif isinstance(message, asked.Stop):
            self.driving.stop(session.id, session.who, message, now)
            self.note(now, "stop", f"{session.who} asked for a stop, {message.category}.")
        elif message.n <= session.number:
            text = f"Number {message.n} was used already; numbers rise within a session."
            self._refuse(session, message, LinkError("replayed", text), now)
        else:
            session.number = message.n
            try:
                self._do(session, message, now)
            except (LinkError, RequestError) as error:
                self._refuse(session, message, error, now)

    def _do(self, session: Session, message: asked.Numbered, now: float) -> None:
        if isinstance(message, asked.Ping):
            session.say(said.Pong(n=message.n, time=now))
        elif isinstance(message, asked.Subscribe):
            self._subscribe(session, message, now)
            self._accept(session, message, now)
        elif isinstance(message, asked.Unsubscribe):
            session.streams.pop(message.stream, None)
            self._accept(session, message, now)
        elif isinstance(message, asked.Take | asked.Give | asked.HandOver):
            self._change_driver(session, message, now)
            self._accept(session, message, now)
        elif isinstance(message, asked.Timed):
            ended = self.driving.ask(session.id, session.who, message, self._report, now)
            if ended is not None:
                self._say(session.id, ended)

    def _greet(self, session: Session, message: asked.Hello, now: float) -> None:
        if message.version < 1:
            text = f"Version {message.version} of the protocol is not spoken here; 1 is."
            self._refuse(session, message, LinkError("version", text), now)
            session.ended = True
            return
        session.greeted, session.client = True, message.client[:LONGEST_NAME]
        session.say(
            said.Welcome(
                version=min(message.version, asked.VERSION),
                session=session.id,
                robot=self.card,
                time=now,
                role=session.role.word,
                name=session.name,
            )
        )
        if session.role is not Role.NONE:
            session.say(self._driver(now))

    def _sign_in(self, session: Session, message: asked.SignIn, now: float) -> None:
        address = session.peer.address
        guest = self.doors.by_token(message.token)
        if guest is None:
            self.entrance.failed(address, now)
            text = "This token opens nothing here. Look at the robot's list of keys."
            self._refuse(session, message, LinkError("sign-in", text), now, fatal=True)
            return
        self.entrance.forgive(address)
        self._admit(session, guest, now)
        session.say(said.Signed(role=session.role.word, name=session.name))
        session.say(self._driver(now))

    def _admit(self, session: Session, guest: Guest, now: float) -> None:
        session.role, session.name = guest.role, guest.name
        text = f"{session.who} from {session.peer.address} may {guest.role.word}."
        self.note(now, "signed in", text)

    def _subscribe(self, session: Session, message: asked.Subscribe, now: float) -> None:
        fields = message.fields or said.BASIC
        unknown = [name for name in fields if name not in said.FIELDS]
        if unknown:
            raise RequestError("fields", unknown[0], f"some of {', '.join(said.FIELDS)}")
        if not 0.0 < message.rate <= 2.0 * self.card.rate:
            raise RequestError("rate", message.rate, f"above 0, at most {self.card.rate:g} Hz")
        if not 1 <= message.depth <= DEEPEST:
            raise RequestError("depth", message.depth, f"1 to {DEEPEST}")
        if len(message.stream) > LONGEST_NAME:
            raise RequestError("stream", "…", f"a name of {LONGEST_NAME} characters at most")
        if message.stream not in session.streams and len(session.streams) >= STREAMS:
            raise LinkError("limit", f"A session may have {STREAMS} streams. Unsubscribe from one.")
        session.streams[message.stream] = Stream(
            name=message.stream,
            fields=tuple(dict.fromkeys(fields)),
            period=1.0 / min(message.rate, self.card.rate),
            due=now,
            waiting=deque(maxlen=message.depth),
        )

    def _change_driver(
        self, session: Session, message: asked.Take | asked.Give | asked.HandOver, now: float
    ) -> None:
        if session.role < Role.DRIVE:
            text = (
                f"{session.name} may only {session.role.word}. Sign in with a key that may drive."
            )
            raise LinkError("role", text)
        if isinstance(message, asked.Take):
            holder = self._sessions.get(self.driving.driver)
            heard = holder.heard if holder is not None else None
            force = message.force and session.role is Role.MAINTAIN
            self.driving.take(session.id, heard, now, force=force)
        elif isinstance(message, asked.Give):
            self.driving.give(session.id)
        else:
            other = self._sessions.get(message.to)
            if other is None or other.role < Role.DRIVE:
                raise LinkError("value", f"{message.to} is no session that may drive.")
            self.driving.hand_over(session.id, other.id)
        self.note(now, "driver", f"{session.who}: {type(message).__name__}.")
        self._broadcast(self._driver(now))

    # What goes out ------------------------------------------------------------------------

    def _accept(self, session: Session, message: asked.Numbered, now: float) -> None:
        session.say(said.Answer(n=message.n, ok=True, time=now))

    def _refuse(
        self, session: Session, message: asked.AnyAsked, error: Exception, now: float,
        *, fatal: bool = False,
    ) -> None:  # fmt: skip
        word = error.word if isinstance(error, LinkError) else "value"
        what = message.__struct_config__.tag
        self.note(now, "refused", f"{session.who} from {session.peer.address}, {what}: {error}")
        if isinstance(message, asked.Numbered):
            wrong = error if isinstance(error, RequestError) else None
            session.say(
                said.Answer(
                    n=message.n,
                    ok=False,
                    time=now,
                    word=word,
                    text=str(error),
                    what=wrong.what if wrong else "",
                    value=str(wrong.value)[:LONGEST_NAME] if wrong else "",
                    allowed=wrong.allowed if wrong else "",
                )
            )
        else:
            session.say(said.Error(word=word, text=str(error), fatal=fatal))
        if isinstance(error, LapsedError) and error.ended is not None:
            session.say(error.ended)
        if fatal:
            session.ended = True
            session.wake()

    def _senseless(self, session: Session, error: LinkError, now: float) -> None:
        session.bad += 1
        over = session.bad >= PATIENCE
        if session.bad == 1 or over:
            self.note(now, "refused", f"{session.who} from {session.peer.address}: {error}")
        session.say(said.Error(word=error.word, text=str(error), fatal=over))
        if over:
            session.ended = True
            session.wake()

    def _driver(self, now: float) -> said.Driver:
        session = self._sessions.get(self.driving.driver)
        if session is None:
            return said.Driver(session="", name="", time=now)
        return said.Driver(session=session.id, name=session.name, time=now)

    def _say(self, id: str, message: said.Said) -> None:
        session = self._sessions.get(id)
        if session is not None:
            session.say(message)

    def _broadcast(self, message: said.Said) -> None:
        text = frame(message)
        for session in self._sessions.values():
            if session.role is not Role.NONE and session.greeted:
                session.put(text)

    def _stream(self, report: Report) -> None:
        """Put due state messages out; one that several want is made once."""
        made: dict[tuple[str, tuple[str, ...]], str] = {}
        for session in self._sessions.values():
            if session.role is Role.NONE and report.time - session.opened > UNSIGNED:
                session.ended = True
                session.wake()
            for stream in session.streams.values():
                if not stream.wants(report.time):
                    continue
                key = (stream.name, stream.fields)
                if key not in made:
                    made[key] = frame(self.readings.state(report, *key))
                stream.put(made[key])
                session.wake()
