"""The demo's folder is a show as well: the plan of *Northbound Ferry* beside the day that was built and worked on, and
the log of two of its days.

The files that it names lie beside it: the script, two scans of the quay, a walk test on the steel deck, and the songs'
tempo maps.
"""

from __future__ import annotations

from pathlib import Path

from rollsound.demo.day_log import write_log
from rollsound.demo.example import example_plan_text, example_script_text
from rollsound.demo.song_files import song_files
from rollsound.demo.spectrum import scan_csv
from rollsound.demo.walk_test import walk_csv
from rollsound.errors import storage
from rollsound.log.model import DATABASE, Author
from rollsound.show.folder import Show
from rollsound.show.text import parse_plan
from rollsound.whole import write_whole

MEDIA_INDEX = "media"
SEED = 4
WALK_TEST = "walk tests/car deck.csv"
SCRIPT = "northbound.fountain"
SCAN_BEFORE, SCAN_AFTER = "scans/quay day 3.csv", "scans/quay day 4.csv"
STRANGER_SITS_ON, STRANGER_OFF_MHZ = "pack-04", 0.06


def make_show(folder: Path) -> Path:
    """Make the demo's show in a folder, unless an earlier run did; edits made since stay.

    Raises
    ------
    StorageError
        when the disk fails or is full
    """
    if not (folder / DATABASE).is_file():
        Show.new(folder, example_plan_text(), Author(person="Rollsound", person_id="", device="demo")).close()
    with Show.open(folder) as show:
        write_log(show)
    lay_radio_files(folder)
    return folder


def lay_radio_files(folder: Path) -> None:
    """Write the script, the scans, the walk test and the tempo maps that the plan names, where they are not there yet.

    Raises
    ------
    StorageError
        when the disk fails or is full
    """
    for name, text in {SCRIPT: example_script_text(), **radio_files(), **song_files()}.items():
        path = folder / name
        with storage(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            there = path.exists()
        if not there:
            write_whole(path, text)


def radio_files() -> dict[str, str]:
    """Name and text of each."""
    radio = parse_plan(example_plan_text()).radio
    taken = {each.file: each.taken for each in radio.scans}
    hit = next(each for each in radio.transmitters if each.id == STRANGER_SITS_ON)
    stranger = None if hit.frequency_hz is None else round(hit.frequency_hz / 1e6 + STRANGER_OFF_MHZ, 3)
    return {
        SCAN_BEFORE: scan_csv(SEED, "day 3", taken.get(SCAN_BEFORE, "")),
        SCAN_AFTER: scan_csv(SEED, "day 4", taken.get(SCAN_AFTER, ""), stranger),
        WALK_TEST: walk_csv(SEED),
    }
