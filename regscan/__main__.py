"""python -m regscan, and the target of the regscan command."""

import gc

from regscan.threads import one_each


def main() -> None:
    """Run the command line."""
    # Importing makes many objects and frees none: collecting them is a tenth of start-up.
    gc.set_threshold(50_000)
    one_each()  # before numpy comes in
    from regscan.cli.app import run

    run()


if __name__ == "__main__":
    main()
