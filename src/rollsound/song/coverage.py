"""Which part of which song every take covers, and what is on no take yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from rollsound.song.clock import SongClock
from rollsound.song.passes import Pass
from rollsound.song.speed import Speed, SpeedKind, speed_of

Interval = tuple[Fraction, Fraction]
NO_LENGTH_S = Fraction(15 * 60)
"""How far a song whose length nobody wrote is looked for behind its start."""
LEAST_MISSING_FRAMES = 3
"""Less than this at a seam is no hole: a frame is read only when it lies in the take whole, and by its neighbours."""


@dataclass(frozen=True)
class SongTake:
    """A take as far as songs go. ``track`` is the one that its code was read from, 0 when none carries any."""

    name: str
    path: str
    scene: str
    sample_rate_hz: int
    frames: int
    track: int
    passes: tuple[Pass, ...]
    circled: bool = False
    plays: bool = True
    """Whether playback is to be expected; not on wild tracks."""
    trouble: str = ""
    """Why it could not be read, one sentence; empty when it could."""


@dataclass(frozen=True)
class Stretch:
    """A pass of one take over one song, with what of it lies outside of the song.

    ``start_s`` and ``end_s`` are places in the song, the earlier one first even backwards; ``zero_sample`` is where in
    the take the song's second 0 lies or would lie.
    """

    song: SongClock
    take: SongTake
    run: Pass
    start_s: Fraction
    end_s: Fraction
    zero_sample: float
    speed: Speed
    speeds: tuple[tuple[float, float, Speed], ...]
    """Stretches of one speed: first and last sample, speed."""

    @property
    def forward(self) -> bool:
        """Whether playback ran forward."""
        return self.run.direction == "forward"

    @property
    def steady(self) -> bool:
        """Whether the speed never changed and playback never slipped."""
        return len(self.speeds) == 1 and not self.run.slips

    @property
    def right(self) -> bool:
        """Whether it is fit to be used: forward, steady, at true speed."""
        return self.forward and self.steady and self.speed.kind in (SpeedKind.TRUE, SpeedKind.UNKNOWN)

    @property
    def inside(self) -> Interval | None:
        """What of it lies in the song; none when that is only a count-in or a tail."""
        start = max(self.start_s, Fraction(0))
        end = self.end_s if self.song.end_s is None else min(self.end_s, self.song.end_s)
        return (start, end) if start < end else None


@dataclass(frozen=True)
class SongCover:
    """A song over all takes: what covers it, what is missing, what exists only backwards or off speed."""

    song: SongClock
    stretches: tuple[Stretch, ...]
    covered: tuple[Interval, ...]
    missing: tuple[Interval, ...]
    only_wrong: tuple[Interval, ...]

    @property
    def share(self) -> float | None:
        """Share of the song that is on some take; none when its length is unknown."""
        end = self.song.end_s
        return float(1 - sum((b - a for a, b in self.missing), Fraction(0)) / end) if end else None


@dataclass(frozen=True)
class SongMap:
    """All songs over all takes; ``strangers`` are passes whose labels are of no song of the plan."""

    covers: tuple[SongCover, ...]
    strangers: tuple[tuple[SongTake, Pass], ...]
    takes: tuple[SongTake, ...]


def map_songs(songs: Sequence[SongClock], takes: Sequence[SongTake]) -> SongMap:
    """Lay every pass of every take over the songs."""
    found: dict[str, list[Stretch]] = {song.id: [] for song in songs}
    strangers = []
    for take in takes:
        for run in take.passes:
            mine = [stretch for song in songs if (stretch := _over(song, take, run, _reach(song, songs))) is not None]
            for stretch in mine:
                found[stretch.song.id].append(stretch)
            if not mine:
                strangers.append((take, run))
    return SongMap(tuple(_cover(song, found[song.id]) for song in songs), tuple(strangers), tuple(takes))


def _reach(song: SongClock, songs: Iterable[SongClock]) -> Interval:
    """How far before and after a song its code is taken for its own: half the way to its neighbours, 60 s at most."""
    end = song.end_s if song.end_s is not None else NO_LENGTH_S
    before, after = Fraction(60), Fraction(60)
    for other in songs:
        if other.id == song.id or not song.counts_as(other.rate.pair.nominal, other.rate.drop):
            continue
        away = song.seconds_of_code(other.code_start)
        if away > 0:
            if song.end_s is None:
                end = min(end, away)
            after = min(after, max(away - end, Fraction(0)) / 2)
        elif away < 0:
            behind = -away - (other.end_s if other.end_s is not None else Fraction(0))
            before = min(before, max(behind, Fraction(0)) / 2)
    return -before, end + after


def _over(song: SongClock, take: SongTake, run: Pass, reach: Interval) -> Stretch | None:
    if not song.counts_as(run.nominal, run.drop):
        return None
    start = song.seconds_of_code(run.first)
    end = start + Fraction(run.last + 1 - run.first) / song.rate.pair.fps
    if end <= reach[0] or start >= reach[1]:
        return None
    fps = float(song.rate.pair.fps)
    # Counted from the first frame of the pass, for numbers of a day times a length would cost the last digits.
    zero = run.sample_of(run.first) - float(start) * fps * run.step_samples
    speeds = tuple(
        (each.start_sample, each.end_sample, speed_of(take.sample_rate_hz / each.frame_samples / fps, each.sigma_ppm))
        for each in run.runs
    )
    whole = speed_of(take.sample_rate_hz / run.frame_samples / fps, run.sigma_ppm)
    return Stretch(song, take, run, start, end, zero, speeds[0][2] if len(speeds) == 1 else whole, speeds)


def _cover(song: SongClock, stretches: Sequence[Stretch]) -> SongCover:
    usable = [each.inside for each in stretches if each.forward and each.inside is not None]
    right = [each.inside for each in stretches if each.right and each.inside is not None]
    covered = united(usable)
    least = LEAST_MISSING_FRAMES / song.rate.fps
    end = song.end_s
    missing = () if end is None else tuple(each for each in without((Fraction(0), end), covered) if _long(each, least))
    wrong = tuple(each for hole in covered for each in without(hole, united(right)) if _long(each, least))
    return SongCover(song, tuple(stretches), covered, missing, wrong)


def _long(interval: Interval, least: Fraction) -> bool:
    return interval[1] - interval[0] >= least


def united(intervals: Iterable[Interval]) -> tuple[Interval, ...]:
    """Overlapping and touching intervals as one, in order."""
    result: list[Interval] = []
    for start, end in sorted(intervals):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        elif start < end:
            result.append((start, end))
    return tuple(result)


def without(whole: Interval, taken: Iterable[Interval]) -> tuple[Interval, ...]:
    """What is left of an interval once others, united and in order, are taken out."""
    result, at = [], whole[0]
    for start, end in taken:
        if end <= at:
            continue
        if start >= whole[1]:
            break
        if start > at:
            result.append((at, start))
        at = max(at, end)
    if at < whole[1]:
        result.append((at, whole[1]))
    return tuple(result)
