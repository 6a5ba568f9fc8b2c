"""Is this camera good enough for this tolerance? Repeated frames and crossed studies."""
