"""What each station did along the run, as terms that the frames support, fitted together."""
