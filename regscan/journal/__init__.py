"""What a run has measured so far, kept on disk while it goes on."""
