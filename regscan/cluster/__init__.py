"""Measuring over a Dask cluster: the same map as regscan.workers, on other machines."""
