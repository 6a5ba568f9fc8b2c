"""What a page is sent, and in which order."""

import asyncio
import json
from contextlib import suppress

import pytest

from tests.watch.records import feed, session_in

pytest.importorskip("starlette")
from regscan.watch.hub import Hub
from regscan.watch.telling import Around, tell


class BusyDesk:
    """Something is said just after each of the first snapshots was made."""

    def __init__(self, out):
        self.session, self.version = session_in(out), 0
        feed(self.session, 1, 3)
        self.changed = lambda: None

    def watched(self):
        watched = tell(self.session, Around(self.version, 0, 0.5, (0, ""), ()))
        if self.version < 3:
            self.session.say("trouble", f"after snapshot {self.version}")
            self.version += 1
            self.changed()
        return watched

    def events_after(self, number):
        return self.session.log.after(number)


async def first_messages(hub, number):
    making = asyncio.create_task(hub.run())
    messages = []
    async for message in hub.stream(0, {}):
        messages.append(message)
        if sum("event: state" in one for one in messages) == number:
            break
    making.cancel()
    with suppress(asyncio.CancelledError):
        await making
    return messages


def test_no_event_comes_before_a_snapshot_that_knows_of_it(tmp_path):
    """Else the page takes the watch for another one, and loads itself anew under a finger."""
    messages = asyncio.run(first_messages(Hub(BusyDesk(tmp_path)), 4))
    newest, said = 0, []
    for message in messages:
        data = json.loads(message.split("data: ", 1)[1])
        if "event: log" in message:
            newest = data["number"]
            said.append(data["words"])
        elif "event: state" in message:
            assert data["events"] >= newest
    assert [one for one in said if one.startswith("after")] == [
        f"after snapshot {k}" for k in range(3)
    ]
