"""The JSON interface, one router a subject. How to add one is told in `rollsound.web.pages`.

Its modules are loaded together when the first request for one of them comes: they are many shapes of answers, and no
page needs them to be shown.
"""

from __future__ import annotations

SUBJECTS = (
    "show",
    "plan",
    "history",
    "people",
    "devices",
    "join_codes",
    "backups",
    "media",
    "jobs",
    "ready",
    "turnover",
    "rig",
    "radio",
    "radio_search",
    "radio_downloads",
    "reach",
    "power",
    "kit",
    "daylog",
    "packs",
    "script",
    "song",
)
"""In the order in which they are described."""
MODULES = tuple(f"{__name__}.{name}" for name in SUBJECTS)
