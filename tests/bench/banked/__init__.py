"""Parts of the bench on the bank of simulated runs."""
