"""regscan: from press-camera frames to register offsets, causes, moves and a verdict."""

__version__ = "0.1.0"
