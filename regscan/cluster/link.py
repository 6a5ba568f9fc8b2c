"""The way to a cluster's scheduler, and whether its workers may do this work."""

import logging
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from regscan.cluster.chunk import Run, seen
from regscan.cluster.standing import check_size, check_standing
from regscan.errors import MissingExtra, NoCluster

if TYPE_CHECKING:
    from distributed import Client

CONNECT_S = 10.0  # to reach the scheduler, and to see a first worker
LEAVE_S = 2.0  # to take leave of it


def need_distributed() -> None:
    """Say at once when distributed is not there. Raises MissingExtra."""
    try:
        import distributed  # noqa: F401
    except ImportError:
        raise MissingExtra("--cluster", "distributed", "cluster") from None


@contextmanager
def connected(address: str) -> Iterator["Client"]:
    """A link to the scheduler at an address. Raises NoCluster where there is none."""
    from distributed import Client

    _knock(address)
    with _quiet():
        try:
            client = Client(address, timeout=CONNECT_S, set_as_default=False, name="regscan")
        except (OSError, ValueError, TypeError, ImportError) as fault:
            raise _nobody(address, str(fault) or type(fault).__name__) from None
        try:
            yield client
        finally:
            with suppress(Exception):  # a scheduler that is gone cannot be taken leave of
                client.close(timeout=LEAVE_S)


def _knock(address: str) -> None:
    """Whether anybody listens there at all: told at once, and not after a time-out."""
    scheme, _, place = address.rpartition("://")
    host, _, port = place.strip("/").rpartition(":")
    if scheme not in ("", "tcp", "tls") or not host or not port.isdecimal():
        raise NoCluster(f"{address!r} is no address -> give one such as tcp://10.0.0.5:8786")
    try:
        socket.create_connection((host.strip("[]"), int(port)), CONNECT_S).close()
    except (OSError, OverflowError) as fault:
        raise _nobody(address, str(fault)) from None


def _nobody(address: str, why: str) -> NoCluster:
    return NoCluster(
        f"no cluster answers at {address!r} ({why[:120]}) -> start `dask scheduler` there, give"
        " its tcp:// address, or leave --cluster out"
    )


@contextmanager
def _quiet() -> Iterator[None]:
    """What matters of a link is said once, as regscan says it, and not by its libraries.

    All logs at once: distributed gives many of its own a level and a place to print to.
    """
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)


def check_workers(client: "Client", run: Run, first: Path) -> None:
    """Every worker there is must stand on the same, and see the first file. Raises NoCluster."""
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
        found = client.run(seen, str(first))
    except TimeoutError:
        raise NoCluster(
            "the cluster has no workers -> start `dask worker ADDRESS` on the machines that are"
            " to measure"
        ) from None
    except Exception as fault:  # what a foreign machine raises cannot be listed
        raise NoCluster(
            f"a worker cannot run regscan ({str(fault)[:160]}) -> install the same regscan in"
            " the environment that `dask worker` runs in"
        ) from None
    for worker, (theirs, size) in sorted(found.items()):
        check_standing(worker, theirs, run.standing)
        check_size(worker, first, size)
