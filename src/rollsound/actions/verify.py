"""Verify: prove a folder by the manifests in it, anywhere and offline."""

from __future__ import annotations

from pathlib import Path

from rollsound.progress import Progress
from rollsound.turnover.verify import VerifyResult
from rollsound.turnover.verify import verify_folder as _prove

__all__ = ["VerifyResult", "verify_folder"]


def verify_folder(path: Path, progress: Progress | None = None) -> VerifyResult:
    """Prove every file of a folder (an offloaded card, a turnover, a drive that holds several of them).

    Raises
    ------
    InputError
        when there is no manifest to prove anything by
    BrokenFileError
        when a manifest was changed, lost or cut off
    StorageError, Halted
        when the folder cannot be read; when the person asked to stop
    """
    return _prove(path, progress)
