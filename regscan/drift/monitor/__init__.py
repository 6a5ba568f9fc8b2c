"""Watching a run while it prints, frame by frame: charts, and warnings before tolerance is left.

monitor = Monitor(job)
for info, offsets in measured:            # in the order of the run
    for alert in monitor.feed(info, offsets):
        print(alert.sentence)
    now = monitor.now()                   # one ChannelNow per colour, axis, camera, edge
"""

from regscan.drift.alert import Alert, Forecast
from regscan.drift.monitor.monitor import Monitor
from regscan.drift.monitor.record import ChannelNow, MonitorRules

__all__ = ["Alert", "ChannelNow", "Forecast", "Monitor", "MonitorRules"]
