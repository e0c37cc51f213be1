"""The demo's folder is a show as well: the plan of *Northbound Ferry* beside the day that was built and worked on."""

from __future__ import annotations

from pathlib import Path

from rollsound.demo.example import example_plan_text
from rollsound.log.model import DATABASE, Author
from rollsound.show.folder import Show

MEDIA_INDEX = "media"


def make_show(folder: Path) -> Path:
    """Make the demo's show in a folder, unless an earlier run did; edits made since stay.

    Raises
    ------
    StorageError
        when the disk fails or is full
    """
    if not (folder / DATABASE).is_file():
        Show.new(folder, example_plan_text(), Author(person="Rollsound", person_id="", device="demo")).close()
    return folder
