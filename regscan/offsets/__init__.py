"""From marks to mm: every colour's place against the reference colour."""
