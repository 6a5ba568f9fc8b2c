"""Early warnings that are still up: said by the monitor, and foretold until a moment ago."""

from collections.abc import Iterable

from regscan.drift.monitor import Alert, ChannelNow
from regscan.drift.monitor.words import warning_words
from regscan.watch.looking import Key

STAYS = 12  # frames without the same forecast, after which a warning is over


class Forewarned:
    """words: what is foretold now, by camera, edge, ink and axis."""

    def __init__(self) -> None:
        self.words: dict[Key, str] = {}
        self._at: dict[Key, int] = {}

    def follow(self, frame: int, alerts: Iterable[Alert], now: Iterable[ChannelNow]) -> None:
        """Take in what the monitor says at a frame of that number."""
        for alert in alerts:
            if alert.forecast is not None:
                self._at[alert.camera, alert.edge, alert.ink, alert.axis] = frame
        for channel in now:
            key = channel.camera, channel.edge, channel.ink, channel.axis
            if channel.forecast is None or key not in self._at:
                continue
            self._at[key] = frame
            changes = channel.pace == "speed changes"
            self.words[key] = warning_words(channel.axis, channel.forecast, changes)
        for key in [key for key, at in self._at.items() if frame - at > STAYS]:
            del self._at[key]
            self.words.pop(key, None)
