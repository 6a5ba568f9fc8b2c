"""From a run's offsets to the web it wasted, where, and what would have saved it."""
