"""Reports of faults that are ours: kept beside, without anything secret."""

from __future__ import annotations

import logging
import os
import tempfile
import traceback
from datetime import datetime
from pathlib import Path

import rollsound

_log = logging.getLogger("rollsound.web")


def save_fault(method: str, path: str, error: Exception) -> Path | None:
    """Write a report: where in the code, for which page; no header, cookie, query or body goes into it."""
    stamp = datetime.now().strftime("%Y%m%d-%H%M%S-%f")
    text = "".join(traceback.format_exception(error))
    report = Path(tempfile.gettempdir()) / f"rollsound-fault-{stamp}-{os.getpid()}.txt"
    try:
        with os.fdopen(os.open(report, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
            file.write(f"rollsound {rollsound.__version__}\n{method} {path[:200]!r}\n\n{text}")
    except OSError:
        _log.exception("a fault, and no place for its report")
        return None
    _log.error("a fault in %s; its report is in %s", path[:200].encode("unicode_escape").decode(), report)
    return report
