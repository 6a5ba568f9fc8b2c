"""Draws press-camera frames of known truth. Shares no code with finding and measuring."""
