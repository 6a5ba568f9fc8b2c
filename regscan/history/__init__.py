"""Runs of months and years in one file, and what they say of each station over time."""
