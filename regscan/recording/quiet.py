"""OpenCV without its own remarks, which would stand between the tool's messages."""

from typing import Any


def quiet_cv2() -> Any:
    """The cv2 module, loaded when it is needed; what it fails at is reported by the caller."""
    import cv2

    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    return cv2
