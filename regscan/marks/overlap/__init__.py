"""Marks that lie on each other, fitted together."""
