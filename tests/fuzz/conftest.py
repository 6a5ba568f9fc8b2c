from tests.faults.conftest import tiny_run

__all__ = ["tiny_run"]
