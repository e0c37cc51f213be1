"""The tables of radio, and what their readers must be told."""

from __future__ import annotations

from rollsound.facts.rows import notes_of

SUBJECTS = {
    "regions": "radio_regions",
    "television": "radio_television",
    "path loss": "radio_paths",
    "walls": "radio_materials",
    "noise": "radio_noise",
    "cables": "radio_cables",
    "antennas": "radio_antennas",
    "transmitters and receivers": "radio_kinds",
    "bodies": "radio_body",
    "exposure": "radio_exposure",
    "control links": "radio_control",
}
"""The tables of radio, by what they are about."""


def all_notes() -> dict[str, tuple[str, ...]]:
    """By subject, everything that a reader of the tables must be told."""
    return {subject: notes_of(file) for subject, file in SUBJECTS.items()}
