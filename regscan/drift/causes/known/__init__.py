"""The known causes, by where they sit."""
