"""What was recorded: frames, their places in time, and the speed of the web."""
