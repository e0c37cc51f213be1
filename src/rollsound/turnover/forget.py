"""Reading what the disk holds, not what the computer's memory still remembers of it."""

from __future__ import annotations

import os


def forget_cached(handle: int) -> bool:
    """Ask the system to drop a file's pages, so that reading comes from the disk; false where it cannot be asked."""
    try:
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
            return True
        import fcntl

        fcntl.fcntl(handle, getattr(fcntl, "F_NOCACHE"), 1)  # noqa: B009  # only known on macOS
        return True
    except (ImportError, AttributeError, OSError):
        return False
