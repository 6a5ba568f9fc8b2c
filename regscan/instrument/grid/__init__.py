"""A dot grid or chessboard in a frame: its nodes found, numbered, placed, and fitted to a lens."""
