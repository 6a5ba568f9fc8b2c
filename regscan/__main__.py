"""python -m regscan, and the target of the regscan command."""


def main() -> None:
    """Run the command line."""
    from regscan.cli.app import run

    run()


if __name__ == "__main__":
    main()
