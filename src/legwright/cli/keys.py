"""The commands `legwright key`: who may come in, and certificates."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

keys = typer.Typer(help="Who may connect to a robot.", no_args_is_help=True)

Name = Annotated[str, typer.Argument(metavar="NAME", help="Of a person or a program.")]
RoleName = Annotated[str, typer.Option("--role", help="watch, drive or maintain.")]
Folder = Annotated[
    Path | None,
    typer.Option("--in", metavar="DIR", help="Folder of keys and certificates; the user's own."),
]


@keys.command()
def add(name: Name, role: RoleName = "drive", into: Folder = None) -> None:
    """Make a token, show it once, and let it in from now on."""
    from legwright.remote import key_file
    from legwright.remote.sign_in import Role, key_for, new_token

    file, token = _file(into), new_token()
    key = key_for(token, name=name, role=Role.of(role))
    key_file.write_doors(file, key_file.with_key(key_file.read_doors(file), key))
    typer.echo(token)
    text = f"The token of {name}, who may {role}: not shown again, kept as a hash in {file}."
    typer.echo(text, err=True)


@keys.command("list")
def listed(into: Folder = None) -> None:
    """List who may connect."""
    from legwright.remote.key_file import read_doors

    doors = read_doors(_file(into))
    for key in doors.keys:
        typer.echo(f"{key.name}: {key.role.word}, by token")
    for guest in doors.certificates.values():
        typer.echo(f"{guest.name}: {guest.role.word}, by certificate")
    if not doors.locked:
        typer.echo("Nobody: the robot listens on loopback only.")


@keys.command()
def remove(name: Name, into: Folder = None) -> None:
    """Let somebody in no more."""
    from legwright.remote import key_file

    file = _file(into)
    key_file.write_doors(file, key_file.without(key_file.read_doors(file), name))
    typer.echo(f"{name} may connect no more.")


@keys.command()
def tls(
    name: Annotated[str, typer.Argument(metavar="ROBOT", help="Name of the robot.")],
    host: Annotated[
        list[str], typer.Option(help="A name or address it is reached by; may be repeated.")
    ],
    into: Folder = None,
) -> None:
    """Make the robot's certificate, and the authority that signs it where there is none."""
    from legwright.remote.certificates import issue, make_authority

    folder = _file(into).parent
    if not (folder / "authority.pem").exists():
        make_authority(folder, name=name)
    pair = issue(folder, name=name, hosts=tuple(host))
    typer.echo(f"{pair.certificate}, {pair.key}: for the robot.")
    typer.echo(f"{folder / 'authority.pem'}: for everybody who connects (authority=…).")


@keys.command()
def client(name: Name, role: RoleName = "drive", into: Folder = None) -> None:
    """Make a client certificate, and let it in from now on."""
    from legwright.remote import key_file
    from legwright.remote.certificates import issue
    from legwright.remote.sign_in import Guest, Role

    file = _file(into)
    guest = Guest(name=name, role=Role.of(role))
    doors = key_file.with_guest(key_file.read_doors(file), guest)
    pair = issue(file.parent, name=name)
    key_file.write_doors(file, doors)
    typer.echo(f"{pair.certificate}, {pair.key}: for {name}, who may {role}.")


def _file(folder: Path | None) -> Path:
    from legwright.remote.key_file import FILE, default_folder

    return (folder or default_folder()) / FILE
