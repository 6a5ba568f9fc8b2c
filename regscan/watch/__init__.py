"""Watching a folder while cameras drop frames into it: what is so, what to do, what happened."""
