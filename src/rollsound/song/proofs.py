"""What the songs' map proves: every song whole on some take, at true speed, and no take with another song's code."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from rollsound.finding import AboutPlan, Area, Finding, Ref, Weight
from rollsound.quantities import count, several, signed
from rollsound.song.clock import SongClock
from rollsound.song.coverage import Interval, SongCover, SongMap, SongTake, Stretch
from rollsound.song.passes import Pass
from rollsound.song.speed import Speed, SpeedKind
from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import RATES
from rollsound.wrong import Wrong

SOURCE = "the playback's time code on the takes (SMPTE ST 12-1), and the song's tempo map"
MOST_TOLD = 4
"""Holes of a song, slips of a take: the first are told, the rest counted."""
_LEAST_SLIP_S = 0.001
"""Shorter slips are told in samples."""

_plan = AboutPlan(Area.SYNC, "songs")


def proofs(found: SongMap, wrong: Sequence[Wrong] = ()) -> list[Finding]:
    """Every proof over the songs, at least one finding each; none when there is neither song nor code.

    Parameters
    ----------
    wrong
        what is wrong with the songs part beyond its form
    """
    if not (found.covers or wrong or any(take.passes for take in found.takes)):
        return []
    return [
        *_plan_findings(wrong),
        *_covered(found),
        *_speeds(found),
        *_strangers(found),
        *_scenes(found),
        *_no_code(found),
    ]


def _plan_findings(wrong: Sequence[Wrong]) -> Iterator[Finding]:
    for each in wrong:
        yield _plan(
            Weight.STOP,
            each.place,
            "song plan",
            f"The songs part, {each.place}: {each.sentence}.",
            remedy="Correct it on the page Plan; the other songs are mapped all the same.",
            at=each.at[1:],
        )


def _covered(found: SongMap) -> Iterator[Finding]:
    for cover in found.covers:
        song, usable = cover.song, [each for each in cover.stretches if each.forward and each.inside is not None]
        at = ("songs", song.id)
        if song.end_s is None:
            yield _plan(
                Weight.WATCH,
                song.name,
                "song length",
                f"Nobody wrote how long {song.name} is, so what is missing of it cannot be told.",
                remedy="Write its length, or a last row 'end' in its tempo map.",
                at=at,
            )
        if not usable:
            yield _plan(
                Weight.WATCH, song.name, "song covered", f"No take covers any part of {song.name} yet.", at=at,
                why="" if not cover.stretches else "Playback ran backwards, or only its count-in was recorded.",
                remedy=_remedy(song, "Roll it"), source=SOURCE,
            )  # fmt: skip
            continue
        yield from _holes(cover, len({each.take.name for each in usable}))


def _remedy(song: SongClock, what: str) -> str:
    scenes = f" in scene {several(song.scenes)}" if song.scenes else ""
    return f"{what}{scenes} before the company leaves it."


def _holes(cover: SongCover, takes: int) -> Iterator[Finding]:
    song, at = cover.song, ("songs", cover.song.id)
    if cover.missing:
        seconds = float(sum((b - a for a, b in cover.missing), Fraction(0)))
        yield _plan(
            Weight.WATCH,
            song.name,
            "song covered",
            f"{seconds:.1f} s of {song.name} are on no take: {_told(song, cover.missing)}.",
            remedy=_remedy(song, "Take these bars once more"),
            at=at,
            source=SOURCE,
            numbers={"missing_s": seconds, "covered_share": cover.share or 0.0, "holes": float(len(cover.missing))},
        )
    elif song.end_s is not None:
        whole = f"All of {song.name} is on {count(takes, 'take')}."
        yield _plan(Weight.FINE, song.name, "song covered", whole, at=at, source=SOURCE)
    if cover.only_wrong:
        seconds = float(sum((b - a for a, b in cover.only_wrong), Fraction(0)))
        yield _plan(
            Weight.WATCH,
            song.name,
            "song at true speed",
            f"{seconds:.1f} s of {song.name} exist only on takes whose playback was off speed: "
            f"{_told(song, cover.only_wrong)}.",
            remedy=_remedy(song, "Take these bars once more at true speed"),
            at=at,
            source=SOURCE,
            numbers={"off_speed_s": seconds},
        )


def _told(song: SongClock, holes: Sequence[Interval]) -> str:
    told = [song.span(*hole) for hole in holes[:MOST_TOLD]]
    more = f"; and {count(len(holes) - MOST_TOLD, 'stretch')} more" if len(holes) > MOST_TOLD else ""
    return "; ".join(told) + more.replace("stretchs", "stretches")


def _speeds(found: SongMap) -> Iterator[Finding]:
    stretches = [each for cover in found.covers for each in cover.stretches]
    fine = True
    for each in stretches:
        told = [*_slipped(each), *_speed(each)]
        if not each.forward:
            what = f"Playback of {each.song.name} ran backwards on {each.take.name}, over {_place(each)}."
            told.append(_finding(Weight.WATCH, each.take, "song backwards", what, each.run, remedy="Leave it aside."))
        fine = fine and not told
        yield from told
    if stretches and fine:
        what = f"On {count(len(stretches), 'pass')} playback ran at true speed and never slipped."
        yield Finding(
            area=Area.SYNC, weight=Weight.FINE, subject="playback", kind="song speed",
            what=what.replace("passs", "passes"), source=SOURCE,
        )  # fmt: skip


def _place(stretch: Stretch) -> str:
    return stretch.song.span(stretch.start_s, stretch.end_s)


def _speed(stretch: Stretch) -> Iterator[Finding]:
    take, song, run = stretch.take, stretch.song, stretch.run
    if len(stretch.speeds) > 1:
        slow, fast = (pick(stretch.speeds, key=lambda each: each[2].measured)[2] for pick in (min, max))
        change = next((start for start, _, speed in stretch.speeds[1:]), 0.0)
        yield _finding(
            Weight.STOP,
            take,
            "song speed",
            f"On {take.name} the speed of {song.name} slipped: from {_ppm(slow)} to {_ppm(fast)}, "
            f"first at {change / take.sample_rate_hz:.1f} s of the take.",
            run,
            why="What is sung here fits no other take, and no single correction mends it.",
            remedy="Take it again with the player locked to the recorder's clock, or to none but its own.",
            numbers={"slowest_ppm": slow.ppm, "fastest_ppm": fast.ppm, "changes": float(len(stretch.speeds) - 1)},
        )
        return
    speed = stretch.speed
    if speed.kind in (SpeedKind.TRUE, SpeedKind.UNKNOWN):
        return
    known = f"{_ppm(speed)}, known to ±{max(2 * speed.sigma_ppm, 0.1):.1f} ppm"
    if speed.kind is SpeedKind.PULLED:
        yield _finding(
            Weight.STOP,
            take,
            "song speed",
            f"On {take.name} playback of {song.name} ran {speed.words} ({known}).",
            run,
            why=f"The ratio is {speed.ratio}; it leaves {signed(speed.clock_ppm, 1)} ppm for the clocks, no more than "
            "crystals. The same speed set by hand would look no different.",
            remedy="Set player and recorder to one sample rate and the song's frame rate and take it again, or pull "
            "this take by the ratio.",
            numbers=_numbers(speed),
        )
        return
    yield _finding(
        Weight.WATCH,
        take,
        "song speed",
        f"On {take.name} playback of {song.name} ran at {speed.words} ({known}; "
        f"{signed(speed.cents, 0)} cents if the pitch went along).",
        run,
        why="No crystal is so far off, and no pull of the trade has this ratio: somebody set the speed.",
        remedy="If it was meant, tell post; else set the player to true speed and take it again.",
        numbers=_numbers(speed),
    )


def _ppm(speed: Speed) -> str:
    return f"{signed(speed.ppm, 1)} ppm"


def _numbers(speed: Speed) -> dict[str, float]:
    return {"speed_ppm": speed.ppm, "sigma_ppm": speed.sigma_ppm, "clock_ppm": speed.clock_ppm}


def _slipped(stretch: Stretch) -> Iterator[Finding]:
    slips, take = stretch.run.slips, stretch.take
    if not slips:
        return
    largest = max(slips, key=lambda each: abs(each.samples))
    size_s = abs(largest.samples) / take.sample_rate_hz
    size = f"{1000 * size_s:.1f} ms" if size_s >= _LEAST_SLIP_S else f"{abs(largest.samples):.0f} samples"
    way = "lost" if largest.samples < 0 else "stood still for"
    times = f", the largest of {count(len(slips), 'slip')}" if len(slips) > 1 else ""
    yield _finding(
        Weight.STOP,
        take,
        "song slipped",
        f"On {take.name} playback of {stretch.song.name} {way} {size} at "
        f"{largest.sample / take.sample_rate_hz:.2f} s of the take{times}, and its count went on.",
        stretch.run,
        why="The player dropped or repeated a buffer: what is sung after it is off against the song by so much.",
        remedy="Take it again from another player, or with a larger buffer.",
        refs=tuple(
            Ref(path=take.path, track=take.track, start_sample=round(each.sample)) for each in slips[:MOST_TOLD]
        ),
        numbers={"slip_samples": largest.samples, "slips": float(len(slips))},
    )


def _strangers(found: SongMap) -> Iterator[Finding]:
    for take, run in found.strangers:
        first, last = stranger_label(run, run.first), stranger_label(run, run.last)
        near = [cover.song for cover in found.covers if not cover.song.counts_as(run.nominal, run.drop)]
        within = [song for song in near if _within(song, run)]
        if within:
            song = within[0]
            why = f"It counts {run.nominal}{' drop-frame' if run.drop else ''} frames a second, and {song.name} is "
            why += f"written at {song.rate}."
            remedy = f"Correct frame_rate of {song.name} in the plan, or the rate of the player."
        else:
            why = "No song of the plan has these labels."
            remedy = "Write the song with its start_timecode into the plan, or find out what was played."
        yield _finding(
            Weight.WATCH,
            take,
            "song known",
            f"{take.name} carries the time code of another song: {first} to {last}.",
            run,
            why=why,
            remedy=remedy,
        )


def _within(song: SongClock, run: Pass) -> bool:
    """Whether labels lie in a song as a person reads them, whatever the rates."""
    start = song.start.hours * 3600 + song.start.minutes * 60 + song.start.seconds
    length = float(song.end_s) if song.end_s is not None else 900.0
    return -60.0 <= run.first / run.nominal - start <= length


def stranger_label(run: Pass, frame: int) -> Timecode:
    """A frame of a pass as a label of the slowest rate that counts so."""
    rate = next(each for each in RATES if (each.nominal, each.drop) == (run.nominal, run.drop))
    return Timecode.from_frames(frame, rate)


def _scenes(found: SongMap) -> Iterator[Finding]:
    """Takes of a sung scene that carry another song than its own."""
    for cover in found.covers:
        for each in cover.stretches:
            wanted = [other.song for other in found.covers if _sung_in(other.song, each.take.scene)]
            if not wanted or cover.song in wanted or each.inside is None:
                continue
            names = several([song.name for song in wanted])
            yield _finding(
                Weight.WATCH,
                each.take,
                "song of the scene",
                f"{each.take.name} is of scene {each.take.scene}, which sings {names}, but its time code is of "
                f"{cover.song.name}.",
                each.run,
                remedy="If it belongs to the scene, add the scene to it in the plan; else the wrong song was played.",
            )


def _sung_in(song: SongClock, scene: str) -> bool:
    return bool(scene) and scene.strip().casefold() in (each.casefold() for each in song.scenes)


def _no_code(found: SongMap) -> Iterator[Finding]:
    for take in found.takes:
        if take.trouble:
            yield _finding(
                Weight.WATCH, take, "song take read", f"{take.name} was not looked at: {take.trouble}.", None
            )
    for cover in found.covers:
        bare = [take for take in found.takes if take.plays and not take.passes and _sung_in(cover.song, take.scene)]
        if not bare:
            continue
        first = bare[0]
        named = next((take for take in bare if take.track), None)
        where = f"Track {named.track} of {named.name} was to carry it" if named else "No track of theirs carries any"
        yield _finding(
            Weight.WATCH,
            first,
            "song code",
            f"No time code of the playback was found on {several([take.name for take in bare])}, in a scene that sings "
            f"{cover.song.name}.",
            None,
            why=f"{where}, so nobody knows which bars are on {'it' if len(bare) == 1 else 'them'}.",
            remedy="If nothing was played back there, leave it so; else give the player's time code a track.",
            refs=tuple(Ref(path=take.path, track=take.track, length_samples=take.frames) for take in bare[:20]),
            numbers={"takes": float(len(bare))},
        )


def _finding(
    weight: Weight,
    take: SongTake,
    kind: str,
    what: str,
    run: Pass | None,
    *,
    why: str = "",
    remedy: str = "",
    refs: tuple[Ref, ...] = (),
    numbers: dict[str, float] | None = None,
) -> Finding:
    place = Ref(path=take.path, track=take.track, length_samples=take.frames)
    if run is not None:
        start = round(run.start_sample)
        place = Ref(
            path=take.path,
            track=take.track,
            start_sample=max(start, 0),
            length_samples=max(round(run.end_sample) - max(start, 0), 0),
        )
    return Finding(
        area=Area.SYNC,
        weight=weight,
        subject=take.name,
        kind=kind,
        what=what,
        why=why,
        remedy=remedy,
        source=SOURCE,
        numbers=numbers or {},
        refs=refs or (place,),
    )
