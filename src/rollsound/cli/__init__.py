"""The command line: parses and shows; every rule of the trade lives below."""

from rollsound.cli.app import main

__all__ = ["main"]
