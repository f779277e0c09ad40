"""What the desk sends to its pages as text: one struct per message, tagged by `type`.

Arrays go as blocks, see `legwright.views.desk.blocks`. A number that is not known is null.
Every state of the edited robot has a revision `rev`; it rises with each edit, undo and redo.
"""

from __future__ import annotations

from legwright.views.desk.said_drive import Hand, RobotState
from legwright.views.desk.said_shape import Drawing, Drawings, Joint, Shape, Solid
from legwright.views.desk.said_sheet import (
    Change,
    Done,
    Edits,
    Field,
    Fields,
    Named,
    Refused,
    Welcome,
)
from legwright.views.desk.said_verdict import Area, Checking, Edge, Found, JointSum, Looked, Verdict
from legwright.views.desk.said_walk import (
    FilmReady,
    Happening,
    Recordings,
    WalkAbout,
    WalkEvents,
    Walking,
)
from legwright.views.desk.telling import Matrix, Said, Word

__all__ = [
    "AnySaid",
    "Area",
    "Change",
    "Checking",
    "Done",
    "Drawing",
    "Drawings",
    "Edge",
    "Edits",
    "Field",
    "Fields",
    "FilmReady",
    "Found",
    "Hand",
    "Happening",
    "Joint",
    "JointSum",
    "Looked",
    "Matrix",
    "Named",
    "Recordings",
    "Refused",
    "RobotState",
    "Said",
    "Shape",
    "Solid",
    "Verdict",
    "WalkAbout",
    "WalkEvents",
    "Walking",
    "Welcome",
    "Word",
]

AnySaid = (
    Welcome | Refused | Done | Edits | Fields | Shape | Checking | Verdict | Looked | Drawings
    | Walking | WalkAbout | Recordings | WalkEvents | FilmReady | RobotState
)  # fmt: skip
"""All that the desk may say as text."""
