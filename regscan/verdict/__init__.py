"""What to do about it: correction moves, and in or out of tolerance."""
