"""What we were told about the press, the inks, the marks and the tolerance."""
