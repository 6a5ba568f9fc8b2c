"""How a mark is printed, and how far to trust it."""
