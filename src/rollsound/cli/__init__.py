"""The command line: parses and shows; every rule of the trade lives below."""

from __future__ import annotations

import sys

__all__ = ["main"]


def main() -> None:
    """Entry point of ``rollsound``. What is needed is loaded here, so that Ctrl-C is heard from the first moment on."""
    try:
        from rollsound.cli.app import main as door
    except KeyboardInterrupt:
        print("Stopped as you asked; nothing had begun.", file=sys.stderr)
        sys.exit(130)
    door()
