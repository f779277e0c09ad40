"""The file that says who may come in: names, roles, hashes of tokens."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable
from pathlib import Path

from legwright.errors import RequestError, RobotError
from legwright.remote.sign_in import Doors, Guest, Key, Role

FOLDER = "legwright"
FILE = "keys.toml"


def default_folder() -> Path:
    """Where keys and certificates of this user's robots are kept."""
    from platformdirs import user_config_path

    return user_config_path(FOLDER)


def read_doors(file: Path) -> Doors:
    """All ways in that a file names; none where there is no file.

    Raises:
        RobotError: If the file makes no sense.
    """
    if not file.exists():
        return Doors()
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8"))
        keys = tuple(
            Key(name=str(k["name"]), role=Role.of(k["role"]), digest=str(k["digest"]))
            for k in content.get("key", ())
        )
        guests = [
            Guest(name=str(g["name"]), role=Role.of(g["role"]))
            for g in content.get("certificate", ())
        ]
    except (OSError, ValueError, KeyError, TypeError) as error:
        cure = "Put it right, or delete it and make new keys: legwright key add NAME."
        raise RobotError(file, "", f"cannot be understood ({error})", cure) from None
    return Doors(keys=keys, certificates={guest.name: guest for guest in guests})


def write_doors(file: Path, doors: Doors) -> None:
    """Write all ways in, readable for the owner only.

    Raises:
        RobotError: If it cannot be written.
    """
    lines = ["# Who may come in. Tokens are kept as hashes: a lost one is replaced, not found."]
    for key in doors.keys:
        lines += ["", "[[key]]", *_pairs(name=key.name, role=key.role.word, digest=key.digest)]
    for guest in doors.certificates.values():
        lines += ["", "[[certificate]]", *_pairs(name=guest.name, role=guest.role.word)]
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.touch(mode=0o600)
        file.chmod(0o600)
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    except OSError as error:
        cure = "Choose a folder you may write to."
        raise RobotError(file, "", f"cannot be written ({error.strerror})", cure) from None


def with_key(doors: Doors, key: Key) -> Doors:
    """The doors with one more key.

    Raises:
        RequestError: If its name is taken.
    """
    _free(key.name, doors)
    return Doors(keys=(*doors.keys, key), certificates=doors.certificates)


def with_guest(doors: Doors, guest: Guest) -> Doors:
    """The doors with one more holder of a certificate.

    Raises:
        RequestError: If the name is taken.
    """
    _free(guest.name, doors)
    return Doors(keys=doors.keys, certificates={**doors.certificates, guest.name: guest})


def without(doors: Doors, name: str) -> Doors:
    """The doors without whoever has that name.

    Raises:
        RequestError: If nobody has.
    """
    known = names(doors)
    if name not in known:
        raise RequestError("name", name, f"one of {', '.join(known) or 'nobody: no key is set'}")
    return Doors(
        keys=tuple(key for key in doors.keys if key.name != name),
        certificates={n: guest for n, guest in doors.certificates.items() if n != name},
    )


def names(doors: Doors) -> list[str]:
    """Everybody who may come in."""
    return [key.name for key in doors.keys] + list(doors.certificates)


def _free(name: str, doors: Doors) -> None:
    if not name or name in names(doors):
        raise RequestError("name", name, "one that nobody has yet")


def _pairs(**values: str) -> Iterable[str]:
    """Lines of TOML; a JSON string is a TOML basic string."""
    return [f"{name} = {json.dumps(value)}" for name, value in values.items()]
