"""Along the run: holds and ramps, levels, excursions, and the web outside tolerance."""
