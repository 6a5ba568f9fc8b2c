"""Where each mark of the layout seems to be."""
