"""The page as a web application. No request names a file: what is served is fixed or in memory."""

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

import regscan
from regscan.errors import RegscanError
from regscan.watch.desk import Desk
from regscan.watch.guard import COOKIE, Guard, Rules
from regscan.watch.hub import Hub
from regscan.watch.refused import Refused

MOST_BYTES = 4096  # of what a page sends
_KINDS = {"html": "text/html", "css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
Answer = Callable[[Request], Awaitable[Response]]


def application(desk: Desk, rules: Rules) -> Guard:
    """The application, guarded."""
    hub = Hub(desk)

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        task = asyncio.create_task(hub.run())
        yield
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task

    pages = [
        Route("/", _file("page.html")),
        Route("/page.css", _file("page.css")),
        Route("/page.js", _file("page.js")),
        Route("/draw.js", _file("draw.js")),
        Route("/icon.svg", _file("icon.svg")),
        Route("/enter.js", _file("enter.js")),
        Route("/enter", _file("enter.html"), methods=["GET"]),
        Route("/enter", _enter(rules), methods=["POST"]),
    ]
    return Guard(Starlette(routes=[*pages, *_feeds(desk, hub, rules), *_wishes(desk)],
                           lifespan=lifespan), rules)  # fmt: skip


def _feeds(desk: Desk, hub: Hub, rules: Rules) -> list[Route]:
    async def events(request: Request) -> Response:
        last = request.headers.get("last-event-id", "")
        number = int(last) if last.isdecimal() and len(last) < 16 else 0
        hello = {"form_key": rules.form_key, "regscan": regscan.__version__}
        return StreamingResponse(hub.stream(number, hello), media_type="text/event-stream")

    async def state(request: Request) -> Response:
        return Response(await hub.state(), media_type="application/json")

    async def picture(request: Request) -> Response:
        _, _, data = desk.picture
        return Response(data, media_type="image/jpeg") if data else Response(status_code=404)

    return [Route("/events", events), Route("/state", state), Route("/picture", picture)]


def _wishes(desk: Desk) -> list[Route]:
    def move(sent: dict[str, Any]) -> None:
        desk.move_made(_whole(sent.get("station")), str(sent.get("axis")), _number(sent.get("mm")))

    def route(path: str, do: Callable[[dict[str, Any]], None]) -> Route:
        async def answer(request: Request) -> Response:
            try:
                await run_in_threadpool(do, await _sent(request))
            except (Refused, RegscanError) as refused:
                return _not_done(refused)
            return JSONResponse({"done": True, "words": "Noted."})

        return Route(path, answer, methods=["POST"])

    return [
        route("/moves", move),
        route("/waited", lambda sent: desk.waited()),
        route("/zero", lambda sent: desk.approve()),
        route("/job", lambda sent: desk.new_job(str(sent.get("name")))),
    ]


def _file(name: str) -> Answer:
    text = files("regscan.watch").joinpath("page", name).read_text(encoding="utf-8")
    kind = _KINDS[name.rsplit(".", 1)[1]]

    async def answer(request: Request) -> Response:
        return Response(text, media_type=kind)

    return answer


def _enter(rules: Rules) -> Answer:
    async def answer(request: Request) -> Response:
        try:
            token = str((await _sent(request)).get("token"))
        except Refused as refused:
            return _not_done(refused)
        if not rules.knows(token):
            return _not_done("That is not the token of this watch.")
        response = JSONResponse({"done": True})
        response.set_cookie(COOKIE, token, httponly=True, samesite="strict", path="/")
        return response

    return answer


def _not_done(why: object) -> Response:
    """A wish that was understood and refused is no fault of the page: it is told in words."""
    return JSONResponse({"done": False, "words": str(why)})


async def _sent(request: Request) -> dict[str, Any]:
    """What a page sent, a small JSON object. Raises Refused for anything else."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BYTES:
            raise Refused("That is far more than a form of this page holds.")
    try:
        sent = json.loads(body or b"{}")
    except (ValueError, RecursionError):
        sent = None
    if not isinstance(sent, dict):
        raise Refused("That was not sent by a form of this page.")
    return sent


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refused("A move needs its length in mm, as a number.")
    return float(value)


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise Refused("A move needs the number of its station.")
    return value
