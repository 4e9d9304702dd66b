"""`python -m standfast`, and the command `standfast`."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
    from standfast.cli.app import main as run

    run()


if __name__ == "__main__":
    main()
