"""Invented days of takes with their files, sound in every way, and mistakes that can be put into them one by one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from hypothesis import strategies as st

from rollsound.review.crosscheck_model import FileOnDisk, PlannedDay, TakeOnDisk, TrackOnDisk, WrittenTake
from rollsound.timecode import Timecode
from rollsound.timecode.rates import Rate
from rollsound.timecode.samples import samples_of_timecode

HZ = 48_000
CHARACTERS = ("Bram", "Idris", "Runa", "Tomasz", "Okello")
TRACKS = ("Mix L", "Mix R", "Boom 1", "Boom 2", *CHARACTERS)


@dataclass(frozen=True)
class GeneratedDay:
    """A day and what is expected of it: kinds of finding with the take's place; -1 for one that is of no take."""

    planned: PlannedDay
    written: tuple[WrittenTake, ...]
    on_disk: tuple[TakeOnDisk, ...]
    expected: tuple[tuple[str, int], ...] = ()


def label_at(frames: int, rate: Rate) -> str:
    return str(Timecode.from_frames(frames, rate))


def samples_at(frames: int, rate: Rate) -> int:
    return int(samples_of_timecode(Timecode.from_frames(frames, rate), HZ))


@st.composite
def sound_days(draw: st.DrawFn) -> GeneratedDay:
    """A day without a mistake: two to four slates of three to four takes, a wild track and a room tone."""
    rate = Rate.parse(draw(st.sampled_from(("24", "25", "29.97", "29.97DF", "23.976"))))
    frame = draw(st.integers(6 * 3600, 11 * 3600)) * rate.nominal
    named = draw(st.booleans())
    scenes = draw(st.lists(st.integers(1, 60), min_size=2, max_size=4, unique=True))
    wishes: list[tuple[str, str, str, str]] = []
    for n, scene in enumerate(scenes):
        takes = range(1, draw(st.integers(3, 4)) + 1)
        wishes += [(str(scene), str(210 + n), str(take), "take" if take > 1 else "false start") for take in takes]
    wishes += [(str(scenes[0]), "", "WT1", "wild track"), (str(scenes[-1]), "", "RT1", "room tone")]
    written, on_disk = [], []
    for n, (scene, slate, take, kind) in enumerate(wishes):
        frame += draw(st.integers(20, 900)) * rate.nominal
        length = draw(st.integers(20, 200)) * rate.nominal
        circled = draw(st.booleans())
        name = f"NF04_{slate or 'S'}_{take}_{n}.wav"
        start = samples_at(frame, rate)
        written.append(
            WrittenTake(
                id=f"take-{n}",
                scene=scene,
                slate=slate,
                take=take,
                kind=kind,
                sound_roll="NF-04",
                circled=circled,
                timecode_in=label_at(frame, rate),
                timecode_out=label_at(frame + length, rate),
                files=(name,) if named else (),
            )
        )
        file = FileOnDisk(
            name,
            scene=scene,
            take=take,
            sound_roll="NF-04",
            circled=circled,
            frame_rate=str(rate),
            kinds=("FALSE_START",) if kind == "false start" else (),
        )
        tracks = tuple(TrackOnDisk(0, n, each) for n, each in enumerate(TRACKS, 1))
        frames = samples_at(frame + length, rate) - start
        on_disk.append(TakeOnDisk((file,), start, frames, HZ, tracks=tracks))
        frame += length
    planned = PlannedDay(rate, tuple(map(str, scenes)), TRACKS, {str(scene): CHARACTERS[:3] for scene in scenes})
    return GeneratedDay(planned, tuple(written), tuple(draw(st.permutations(on_disk))))


Change = Callable[[WrittenTake, TakeOnDisk], tuple[WrittenTake | None, TakeOnDisk | None]]


def _file(disk: TakeOnDisk, **values: object) -> TakeOnDisk:
    return replace(disk, files=(replace(disk.files[0], **values),))  # type: ignore[arg-type]


def _later(disk: TakeOnDisk, seconds: float) -> TakeOnDisk:
    return replace(disk, start_samples=disk.start_samples + round(seconds * HZ))


def _without_track(disk: TakeOnDisk, name: str) -> TakeOnDisk:
    return replace(disk, tracks=tuple(each for each in disk.tracks if each.name != name))


def _renamed(disk: TakeOnDisk, name: str, new: str) -> TakeOnDisk:
    return replace(disk, tracks=tuple(replace(each, name=new) if each.name == name else each for each in disk.tracks))


MISTAKES: dict[str, Change] = {
    "take without a file": lambda line, disk: (line, None),
    "file without a take": lambda line, disk: (None, disk),
    "scene differs": lambda line, disk: (line, _file(disk, scene="99")),
    "take differs": lambda line, disk: (line, _file(disk, take="77")),
    "sound roll differs": lambda line, disk: (line, _file(disk, sound_roll="NF-05")),
    "circled differs": lambda line, disk: (line, _file(disk, circled=not line.circled)),
    "kind differs": lambda line, disk: (replace(line, kind="take"), _file(disk, kinds=("NO_GOOD",))),
    "iso missing": lambda line, disk: (line, _without_track(disk, "Runa")),
    "track name differs": lambda line, disk: (line, _renamed(disk, "Tomasz", "Tomas")),
    "track name twice": lambda line, disk: (line, _renamed(disk, "Mix R", "Mix L")),
    "time code differs": lambda line, disk: (line, _later(disk, 5)),
    "length differs": lambda line, disk: (line, replace(disk, frames=disk.frames - 6 * HZ)),
    "frame rate differs": lambda line, disk: (line, _file(disk, frame_rate="50")),
    "track noted": lambda line, disk: (replace(line, track_notes={"14": "rustle"}), disk),
    "file name differs": lambda line, disk: (replace(line, files=("gone.wav",)), disk),
    "scene not on the day": lambda line, disk: (replace(line, scene="88"), _file(disk, scene="88")),
}
"""What is done to a line and its file, by the kind of finding that must tell of it."""
ONLY_SLATED = frozenset({"kind differs", "iso missing"})
