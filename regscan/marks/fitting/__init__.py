"""One mark fitted to its pixels."""
