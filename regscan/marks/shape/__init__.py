"""Shapes of marks as the camera would show them."""
