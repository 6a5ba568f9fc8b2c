"""Who may speak to the page: checked before anything else, on every request.

- The Host header must be an address or a name of this machine, so that a foreign name that was
  made to point here (DNS rebinding) is refused.
- A request that changes something must come from this page: same origin, and the form's own key.
- Beyond loopback everything but the door itself needs the token.
"""

import hmac
import ipaddress
import secrets
import socket
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import urlsplit

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "regscan-watch"
OPEN_TO_ALL = ("/enter", "/enter.js", "/page.css", "/icon.svg")
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self';"
    " img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none';"
    " frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class Rules:
    """names: host names besides addresses; token: None where the page is on loopback only."""

    names: frozenset[str]
    token: str | None = None
    form_key: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)

    def knows(self, token: str) -> bool:
        """Whether that is the token, in a time that does not depend on how nearly it is."""
        return self.token is not None and hmac.compare_digest(token.encode(), self.token.encode())


def own_names(listen: str) -> frozenset[str]:
    """The names by which this machine may be called."""
    return frozenset({"localhost", socket.gethostname().lower(), listen.lower()})


class Guard:
    """Stands before the page's application."""

    def __init__(self, app: App, rules: Rules) -> None:
        self._app, self._rules = app, rules

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = {k.decode("latin-1"): v.decode("latin-1") for k, v in scope["headers"]}
        refused = self._refused(scope["method"], scope["path"], headers)
        if refused is None:
            await self._app(scope, receive, _with_headers(send))
        elif refused == 303:
            await _answer(_with_headers(send), 303, "", [(b"location", b"/enter")])
        else:
            await _answer(_with_headers(send), *_WORDS[refused])

    def _refused(self, method: str, path: str, headers: dict[str, str]) -> int | None:
        host = headers.get("host", "")
        if not self._is_ours(host):
            return 421
        if method not in ("GET", "HEAD") and not self._from_here(path, headers, host):
            return 403
        if self._rules.token is None or path in OPEN_TO_ALL or self._has_token(headers):
            return None
        return 303 if path == "/" else 401

    def _is_ours(self, host: str) -> bool:
        name = (urlsplit(f"//{host}").hostname or "") if _readable(host) else ""
        if name in self._rules.names:
            return True
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return False
        return self._rules.token is not None or address.is_loopback

    def _from_here(self, path: str, headers: dict[str, str], host: str) -> bool:
        site = headers.get("sec-fetch-site", "same-origin")
        origin = urlsplit(headers.get("origin", ""))
        if site != "same-origin" or origin.netloc != host:
            return False
        if headers.get("content-type", "").split(";")[0].strip() != "application/json":
            return False
        key = headers.get("x-regscan-form", "")
        return path == "/enter" or hmac.compare_digest(key.encode(), self._rules.form_key.encode())

    def _has_token(self, headers: dict[str, str]) -> bool:
        bearer = headers.get("authorization", "")
        if bearer.startswith("Bearer "):
            return self._rules.knows(bearer.removeprefix("Bearer "))
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return cookie is not None and self._rules.knows(cookie.value)


_WORDS = {
    401: (401, "This page needs its token: open the address that regscan watch printed."),
    403: (403, "Refused: not asked for by this page. Load it anew."),
    421: (421, "Refused: this machine is not called that."),
}


def _readable(host: str) -> bool:
    try:
        urlsplit(f"//{host}").port  # noqa: B018 - raises for nonsense
    except ValueError:
        return False
    return "@" not in host and "/" not in host


def _with_headers(send: Send) -> Send:
    async def wrapped(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = [(k.encode(), v.encode()) for k, v in HEADERS.items()]
            message = {**message, "headers": [*message.get("headers", []), *own]}
        await send(message)

    return wrapped


async def _answer(
    send: Send, status: int, words: str, more: list[tuple[bytes, bytes]] | None = None
) -> None:
    kind = (b"content-type", b"text/plain; charset=utf-8")
    await send({"type": "http.response.start", "status": status, "headers": [kind, *(more or [])]})
    await send({"type": "http.response.body", "body": words.encode()})
