"""Mutation fuzz of the demo folder: 2,000 variants, each loads or raises RobotError.

1,600 variants go through sheet reading and generation or URDF reading, and 400 through the
whole of `load`; half of each damage the sheet, half the URDF. The edits are seeded.
"""

import random
import re
from pathlib import Path

import pytest

from legwright.errors import RobotError
from legwright.mechanics.kinematics import kinematics_of
from legwright.robot.generate import tree_of
from legwright.robot.loading import load
from legwright.robot.sheet_reading import read_sheet
from legwright.robot.urdf import read_urdf
from legwright.robot.urdf_writing import urdf_text

ROOK = Path(__file__).parents[2] / "robots" / "rook" / "robot.toml"
TOKEN = re.compile(r"[A-Za-z_]+|\d+\.?\d*|\s+|[^\w\s]")
UNITS = ["mm", "m", "kg", "g", "N*m", "deg", "V", "A", "s", "degC", "K/W", "", "rpm", "%", "mm^9"]
WILD = ["", "nan", "-1", "0", "1e308", "inf", "true", "[]", "{}", '"', "'", "=", "<", "/>", "&",
        "é", "\x00", "\ufeff", "9" * 400, "-" * 50, "[[x]]", "..", "\\u12"]  # fmt: skip


@pytest.fixture(scope="module")
def texts():
    sheet = read_sheet(ROOK)
    return ROOK.read_text(encoding="utf-8"), urdf_text(tree_of(sheet, ROOK))


def damaged(text, rng):
    """One to three random edits, then bytes."""
    tokens = TOKEN.findall(text)
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(tokens))
        other = rng.randrange(len(tokens))
        match rng.randrange(7):
            case 0:
                del tokens[at]
            case 1:
                tokens.insert(at, tokens[at])
            case 2:
                tokens[at], tokens[other] = tokens[other], tokens[at]
            case 3:
                tokens[at] = rng.choice(WILD)
            case 4:
                tokens[at] = tokens[other]
            case 5:
                places = [i for i, t in enumerate(tokens) if t in UNITS and t]
                tokens[rng.choice(places or [at])] = rng.choice(UNITS)
            case 6:
                places = [i for i, t in enumerate(tokens) if t[:1].isdigit()]
                tokens[rng.choice(places or [at])] = rng.choice(["0", "-5", "1e9", "1e-9", "nan"])
    data = "".join(tokens).encode("utf-8", "surrogatepass")
    where = rng.randrange(len(data))
    match rng.randrange(12):
        case 0:
            return data[:where]
        case 1:
            return data[:where] + rng.randbytes(rng.randint(1, 8)) + data[where:]
        case 2:
            lines = data.split(b"\n")
            cut = rng.randrange(len(lines))
            return b"\n".join(lines[:cut] + lines[cut + rng.randint(1, 8) :])
        case _:
            return data


def read_only(file):
    if file.suffix == ".urdf":
        read_urdf(file)
        return
    sheet = read_sheet(file)
    if sheet.urdf is None:
        tree_of(sheet, file)


def whole(file):
    load(file, solver=kinematics_of)


@pytest.mark.parametrize(
    ("kind", "reader", "seeds"),
    [
        ("sheet", read_only, range(800)),
        ("urdf", read_only, range(800)),
        ("sheet", whole, range(1000, 1200)),
        ("urdf", whole, range(1000, 1200)),
    ],
    ids=["read sheet", "read urdf", "load sheet", "load urdf"],
)
def test_loads_or_says_why(kind, reader, seeds, texts, tmp_path):
    text = texts[0] if kind == "sheet" else texts[1]
    file = tmp_path / ("robot.toml" if kind == "sheet" else "rook.urdf")
    refused = 0
    for seed in seeds:
        file.write_bytes(damaged(text, random.Random(seed)))
        try:
            reader(file)
        except RobotError as error:
            refused += 1
            assert str(error)
            assert error.problem
            assert error.cure
        except Exception as error:
            raise AssertionError(f"seed {seed}: {type(error).__name__}: {error}") from error
    assert 0.2 * len(seeds) < refused < len(seeds)
