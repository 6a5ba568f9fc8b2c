"""From what moved to why: one table of causes, and how findings are held against it."""
