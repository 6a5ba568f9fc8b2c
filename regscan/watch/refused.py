"""What somebody at the page asked for and cannot have, in words for them."""


class Refused(Exception):
    """A wish that was not followed; its text says why and what to do."""
