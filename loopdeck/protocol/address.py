"""Where engine and window meet: the address of their local socket.

Conventions: an address is text: ``unix:/folder/link`` where the system has local sockets (the
folder is for its owner only, 0700), else ``tcp:PORT:TOKEN`` on the loopback, where the Hello of a
client must name the token.
"""

import os
import secrets
import shutil
import socket
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

from loopdeck.errors import UserError

LOCAL_SOCKETS = hasattr(socket, "AF_UNIX")


class LinkError(UserError, OSError):
    """The link cannot be made; ``str(error)`` is one full sentence."""


class Endpoint(NamedTuple):
    """An address taken apart: the socket family, what ``bind`` and ``connect`` take, and the token
    ("" where none is needed).
    """

    family: int
    where: Any
    token: str


def new_address() -> str:
    """An address nobody uses yet; ``forget_address`` clears it away."""
    if LOCAL_SOCKETS:
        base = os.environ.get("XDG_RUNTIME_DIR")
        # A socket's path has room for about a hundred bytes only, so a deep folder will not do.
        base = base if base and len(base) < 60 and os.access(base, os.W_OK) else None
        folder = tempfile.mkdtemp(prefix="loopdeck-", dir=base)
        os.chmod(folder, 0o700)
        return f"unix:{folder}/link"
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return f"tcp:{probe.getsockname()[1]}:{secrets.token_hex(16)}"


def forget_address(address: str) -> None:
    """Clear away what ``new_address`` made; harmless when it is gone already."""
    kind, _, rest = address.partition(":")
    folder = Path(rest).parent
    if kind == "unix" and folder.name.startswith("loopdeck-"):
        shutil.rmtree(folder, ignore_errors=True)


def place_of(address: str) -> Endpoint:
    """The parts of an address. Raises LinkError."""
    kind, _, rest = address.partition(":")
    if kind == "unix" and rest and LOCAL_SOCKETS:
        return Endpoint(socket.AF_UNIX, rest, "")
    port, _, token = rest.partition(":")
    if kind == "tcp" and port.isdecimal() and port.isascii() and 0 < int(port[:6]) < 65_536 and token:
        return Endpoint(socket.AF_INET, ("127.0.0.1", int(port)), token)
    raise LinkError(f"{address!r} is not an address of the engine; it should read unix:PATH or tcp:PORT:TOKEN.")
