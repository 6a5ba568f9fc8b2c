"""Causes that are the camera's own: no register error at all."""

from regscan.drift.causes.sign import (
    ALONG,
    ONE,
    Entry,
    Sign,
)

SIGHT = (
    Entry(
        name="flash-timing",
        title="colours that are flashed at different times",
        signs=(
            Sign(ALONG, ("speed at the camera",), ("channel",)),
            Sign(ALONG, ("speed at the camera",), ONE, -1.0),
        ),
        reason="colours seen in one channel of the camera move with the speed at the moment of "
        "the frame, not of printing: no register error but a late light",
        first_check="Compare with the web stopped, and with black marks only.",
        deciding="a frame of the standing web: what is false is gone",
    ),
    Entry(
        name="rolling-shutter",
        title="a sensor that reads row after row",
        signs=(Sign(ALONG, ("speed at the camera",), ("place",)),),
        reason="marks move by their distance in the frame with the speed at the moment of the "
        "frame: no register error but rows read one after the other",
        first_check="Compare with the web stopped; use a global shutter or a short flash.",
        deciding="a frame of the standing web: what is false is gone",
    ),
)
