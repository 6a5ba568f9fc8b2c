"""Runs on which the monitor is judged, and how."""
