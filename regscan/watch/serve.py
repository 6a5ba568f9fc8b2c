"""Serving the page: where it listens, and its token."""

import os
import secrets
import socket
from contextlib import suppress
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

import uvicorn

from regscan.errors import BadInput, BadOutput, Problem
from regscan.watch.desk import Desk
from regscan.watch.guard import Rules, own_names
from regscan.watch.site import application

TOKEN = "token"


@dataclass(frozen=True, slots=True)
class Address:
    """Where the page is served. sock: bound already; token: None on loopback."""

    host: str
    sock: socket.socket
    token: str | None

    @property
    def url(self) -> str:
        """What to open. The token stands behind #, which a browser sends to nobody."""
        everywhere = self.host in ("0.0.0.0", "::")
        host = socket.gethostname() if everywhere else self.host
        host = f"[{host}]" if ":" in host else host
        door = f"enter#{self.token}" if self.token else ""
        return f"http://{host}:{self.sock.getsockname()[1]}/{door}"


def bind(host: str, port: int, out: Path) -> Address:
    """Take an address. Beyond loopback there is a token, kept in `out` over restarts.

    Raises BadInput for an address that is not this machine's or is taken.
    """
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        sock = socket.create_server((host, port), family=family)
    except OSError as fault:
        cure = "give another --port, or an address of this machine"
        what = f"cannot be listened on ({(fault.strerror or str(fault)).lower()})"
        raise BadInput(f"{host}:{port}", Problem("", what, cure)) from None
    local = ip_address(sock.getsockname()[0].split("%")[0]).is_loopback
    return Address(host, sock, None if local else _token(out / TOKEN))


def _token(path: Path) -> str:
    """The token of an earlier watch into the same folder, so that open pages go on; else new."""
    with suppress(OSError):
        kept = path.read_text(encoding="ascii").strip()
        if len(kept) >= 32:
            return kept
    token = secrets.token_urlsafe(32)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(file, "w", encoding="ascii") as text:
            text.write(token + "\n")
    except OSError as fault:
        what = f"cannot be written ({fault.strerror})"
        raise BadOutput(path, Problem("", what, "give another folder with --out")) from None
    return token


def server(desk: Desk, address: Address) -> uvicorn.Server:
    """A server that is not running yet; server.run(sockets=[address.sock]) serves until told."""
    rules = Rules(own_names(address.host), address.token)
    config = uvicorn.Config(
        application(desk, rules),
        access_log=False,
        log_level="critical",
        server_header=False,
        proxy_headers=False,
        ws="none",
        timeout_graceful_shutdown=1,  # open pages never end by themselves
    )
    return uvicorn.Server(config)
