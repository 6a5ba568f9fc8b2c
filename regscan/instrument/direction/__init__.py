"""The direction check: one colour moved by a known step proves the sides a camera file names."""
