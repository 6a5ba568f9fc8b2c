"""Presses drawn by chance, and what is told of them."""
