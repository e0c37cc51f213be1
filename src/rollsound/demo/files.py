"""The files that the recorder and the cards would have left, the sheets, and the word that all is synthesised."""

from __future__ import annotations

import csv
import io
import uuid
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from rollsound.demo.scenario import BOOMS, MIX, MUSIC, PEOPLE, SAMPLE_RATE_HZ, Card, Day, Take
from rollsound.demo.voice import F32
from rollsound.errors import storage
from rollsound.timecode import Rate, timecode_of_samples
from rollsound.wave import AudioFormat, Bext, FileSet, IXml, IXmlTrack, SampleFormat, WaveWriter, history_line
from rollsound.whole import write_whole

NOTICE = (
    "All sound here is synthesised by Rollsound's own code for a demonstration. Northbound Ferry, its people and its "
    "song are invented; nobody was recorded."
)
_SHORT = "Synthesised demonstration, nobody was recorded"
_BLOCK = 1 << 17
_RATE = Rate.parse("25")


def uid(seed: int, *names: str) -> str:
    """An identifier that is the same for the same seed and names."""
    return uuid.uuid5(uuid.UUID(int=seed), "/".join(names)).hex.upper()


def _clock(start_samples: int) -> str:
    label, _ = timecode_of_samples(start_samples, SAMPLE_RATE_HZ, _RATE)
    return f"{label.hours:02d}:{label.minutes:02d}:{label.seconds:02d}"


def _bext(day: Day, lines: dict[str, str], start: int, form: AudioFormat, reference: str, origin: str) -> Bext:
    text = "\r\n".join(f"s{key}={value}" for key, value in lines.items()) + "\r\n"
    return Bext(
        description=text[:256],
        originator=origin,
        originator_reference=reference[:32],
        origination_date=day.date,
        origination_time=_clock(start),
        time_reference=start,
        coding_history=history_line(form, _SHORT),
    )


def function_of(track: str) -> str:
    """What the iXML track list calls a track's purpose."""
    if track in MIX:
        return "L-MIX" if track.endswith("L") else "R-MIX"
    return ""


def _take_types(take: Take) -> tuple[str, ...]:
    return {"false start": ("FALSE_START",), "wild track": ("WILD_TRACK",)}.get(take.kind, ())


def _note(take: Take) -> str:
    slate = f"Slate {take.slate}. " if take.slate else ""
    return f"{slate}{take.note}. {_SHORT}."


def write_take(
    folder: Path, day: Day, take: Take, names: Sequence[str], audio: F32, start: int, seed: int
) -> list[str]:
    """A take as one poly file, or one file a track; returns the names of its files."""
    jobs: list[tuple[str, list[int], FileSet | None]] = [(f"{take.file}.wav", list(range(len(names))), None)]
    if take.mono_set:
        family = uid(seed, day.project, take.file)
        jobs = [
            (f"{take.file}_{n + 1}.wav", [n], FileSet(len(names), family, take.file, str(n + 1), start))
            for n in range(len(names))
        ]
    for file, columns, members in jobs:
        form = AudioFormat(SAMPLE_RATE_HZ, len(columns), SampleFormat.PCM24)
        tracks = [
            IXmlTrack(column + 1, place, names[column], function_of(names[column]))
            for place, column in enumerate(columns, 1)
        ]
        lines = {"SCENE": take.scene, "TAKE": take.take, "TAPE": day.sound_roll, "SLATE": take.slate, "NOTE": _SHORT}
        reference = uid(seed, file)
        bext = _bext(day, lines, start, form, reference, "Rollsound demo")
        ixml = IXml.build(
            project=day.project,
            scene=take.scene,
            take=take.take,
            sound_roll=day.sound_roll,
            note=_note(take),
            circled=take.circled,
            take_types=_take_types(take),
            file_uid=reference,
            rate=_RATE,
            audio=form,
            tracks=tracks,
            file_set=members,
            original_filename=file,
            bext=bext,
            user={"FULL_TITLE": day.project, "PRODUCTION_NOTE": NOTICE},
        )
        with WaveWriter(folder / file, form, bext=bext, ixml=ixml) as writer:
            for at in range(0, audio.shape[0], _BLOCK):
                writer.write(np.ascontiguousarray(audio[at : at + _BLOCK, columns]))
    return [file for file, _, _ in jobs]


def card_writer(path: Path, day: Day, card: Card, start: int, seed: int) -> WaveWriter:
    """A writer for one file of a card: mono, with a time stamp unless the card never had one."""
    kind = SampleFormat.FLOAT32 if card.floating else SampleFormat.PCM24
    form = AudioFormat(SAMPLE_RATE_HZ, 1, kind)
    if not card.has_timecode:
        return WaveWriter(path, form, info_list={"ICMT": _SHORT})
    reference = uid(seed, path.name)
    shown = day if not card.other_day else _day_before(day)
    bext = _bext(shown, {"TAPE": card.name, "NOTE": _SHORT}, start, form, reference, "Rollsound demo card")
    ixml = IXml.build(
        project=day.project,
        sound_roll=card.name,
        note=f"{_SHORT}.",
        file_uid=reference,
        rate=_RATE,
        audio=form,
        tracks=[card.name],
        original_filename=path.name,
        bext=bext,
    )
    return WaveWriter(path, form, bext=bext, ixml=ixml)


def _day_before(day: Day) -> Day:
    return replace(day, date=day.date[:-2] + f"{int(day.date[-2:]) - 1:02d}")


def never_finalise(path: Path, data_size_at: int, cut_bytes: int) -> None:
    """Leave a file as a lost supply leaves it: sizes of nothing in its head, its end cut off anywhere."""
    with storage(path):
        size = path.stat().st_size
        with open(path, "r+b") as file:
            for at in (4, data_size_at):
                file.seek(at)
                file.write(b"\0\0\0\0")
            file.truncate(size - cut_bytes)


def write_takes_sheet(path: Path, day: Day) -> None:
    """The sheet of takes."""
    rows = [["file", "scene", "slate", "take", "sound_roll", "circled", "kind", "note"]]
    for take in day.takes:
        circled = "yes" if take.circled else "no"
        rows.append([take.file, take.scene, take.slate, take.take, day.sound_roll, circled, take.kind, take.note])
    _write_csv(path, rows)


def write_wearers_sheet(path: Path, day: Day) -> None:
    """The sheet of who wears what, with whatever was written down wrongly."""
    cards = {card.sheet_track: card.name for card in day.cards if card.sheet_track}
    performers = {person.name: person.performer for person in PEOPLE}
    worn = dict.fromkeys(name for block in day.blocks for name in block.radios)
    rows = [["track", "character", "performer", "card"]]
    for track in worn:
        character = track if track in performers else ""
        rows.append([track, character, performers.get(track, ""), cards.get(track, "")])
    _write_csv(path, rows)


def _write_csv(path: Path, rows: list[list[str]]) -> None:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows(rows)
    write_whole(path, text.getvalue())


def write_readme(path: Path, day: Day) -> None:
    """What this folder is, for whoever opens it without us."""
    write_whole(
        path,
        f"""{day.project}, sound roll {day.sound_roll}

{NOTICE}

recorder/     what the recorder left: one file a take (one take as a set of monos, one file never finalised)
cards/        what the transmitters recorded inside, one folder a card
takes.csv     the sheet of takes
wearers.csv   the sheet of who wears what; two cards are entered the wrong way round, and one card is of another day
truth.json    what is really so; the tools never read it

The day is compressed: seconds lie between takes where hours would, and lunch is twenty seconds.
Radio paths here are exactly linear in phase: real ones add a little delay of their own below 200 Hz.
Tracks: {", ".join((*MIX, *BOOMS))}, one radio mic a character, {", ".join(MUSIC)} on the sung take.
""",
    )
