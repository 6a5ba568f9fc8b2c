"""OpenCV without its own remarks, which would stand between the tool's messages."""

import os
from typing import Any

_SILENT = 0
_FFMPEG_SILENT = "-8"  # AV_LOG_QUIET of libavutil/log.h


def quiet_cv2() -> Any:
    """The cv2 module, loaded when it is needed; what it fails at is reported by the caller."""
    os.environ.setdefault("OPENCV_FFMPEG_LOGLEVEL", _FFMPEG_SILENT)
    import cv2

    # Versions differ in where this switch is; one without it is only more talkative.
    for owner in (cv2, getattr(cv2.utils, "logging", None)):
        if switch := getattr(owner, "setLogLevel", None):
            switch(_SILENT)
    return cv2
