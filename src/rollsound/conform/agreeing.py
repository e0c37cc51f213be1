"""Whether the files are what a plan says of them, judged before anything is written: reads headers only."""

from __future__ import annotations

from collections.abc import Iterator

from rollsound.conform.plan import ConformPlan, TakePlan, refuse_changed
from rollsound.errors import Mistake, MistakesError
from rollsound.timecode import Rate
from rollsound.wave import TakeReader, WaveInfo, open_set, read_info


def check_files(plan: ConformPlan, name: str) -> None:
    """Compare what a plan, perhaps edited, says of its sources with the sources.

    Raises
    ------
    MistakesError
        naming every field of the plan ``name`` that says other than the file it speaks of
    InputError
        when a source has changed since, or a frame rate is none
    StorageError
        when a source is not there
    """
    for take in plan.takes:
        if take.time_rate:
            Rate.parse(take.time_rate)
    cards: dict[str, WaveInfo] = {}
    mistakes: list[Mistake] = []
    for take in plan.takes:
        refuse_changed(take)
        with open_set([member.file.path for member in take.members]) as opened:
            mistakes += [Mistake(take.take, 0, sentence) for sentence in _take_differs(take, opened)]
        mistakes += [Mistake(take.take, 0, sentence) for sentence in _cards_differ(take, cards)]
    if mistakes:
        raise MistakesError(name, mistakes)


def _take_differs(plan: TakePlan, take: TakeReader) -> Iterator[str]:
    paths = [str(reader.info.path) for reader in take.members]
    if [member.file.path for member in plan.members] != paths:
        yield f"its files belong in the order {', '.join(paths)}; put their members in that order"
        return
    own = take.info
    yield from _says("sample_rate_hz", plan.sample_rate_hz, own.format.sample_rate_hz, "the recorder's file")
    yield from _says("frames", plan.frames, own.frames, "the recorder's file")
    yield from _says("start_samples", plan.start_samples, own.start_samples, "the recorder's file")
    if own.rate is not None:
        yield from _says("time_rate", plan.time_rate, str(own.rate), "the recorder's file")
    for member, reader in zip(plan.members, take.members, strict=True):
        offset = reader.info.start_samples - own.start_samples
        yield from _says("channels", member.channels, reader.info.format.channels, reader.info.name)
        yield from _says("frames", member.frames, reader.info.frames, reader.info.name)
        yield from _says("offset_samples", member.offset_samples, offset, reader.info.name)
    for track, track_name in zip(plan.tracks, own.track_names, strict=False):
        yield from _says(f"name of track {track.index + 1}", track.name, track_name, "the recorder's file")


def _cards_differ(plan: TakePlan, cards: dict[str, WaveInfo]) -> Iterator[str]:
    for track in plan.tracks:
        for piece in track.pieces:
            path = piece.file.path
            info = cards.setdefault(path, cards[path] if path in cards else read_info(path))
            which = f"of track {track.index + 1} ({track.name})"
            yield from _says(f"card_frames {which}", piece.card_frames, info.frames, path)
            yield from _says(f"card_rate_hz {which}", piece.card_rate_hz, info.format.sample_rate_hz, path)
            if piece.channel >= info.format.channels:
                yield (
                    f"channel {which} is {piece.channel}, and {path} has channels 0 to {info.format.channels - 1}; "
                    "write one of those"
                )


def _says(field: str, said: object, own: object, file: str) -> Iterator[str]:
    if said != own:
        yield f"{field} is {said}, and {file} has {own}; put that back, or plan again"
