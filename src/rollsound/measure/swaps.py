"""Tracks that seem to have changed places in one take, told without cards from what is characteristic of a track.

Longer than most files: four kinds of evidence are weighed against the chance of each going wrong, in one place.

What is compared is what a line does to any sound: whether it came by radio or by cable, how high a radio reaches, a
constant offset (DC), and time code. A hint comes when in one take two tracks read as each other and in the other takes
as themselves. It is no proof: ears or cards are.

Limits, measured on a synthesised day (three booms, eight radio mics of one make a site, nine takes; three seeds):
two radio mics of one make cannot be told apart. Their noise floors differ less from each other than one differs from
take to take, and follow the place; so levels and floors alone give no hint, and serve only to contradict or support
one. Hum follows the place and a silent track the scene: neither is used. A radio track without a voice can read as
cable, and a boom at the sea as neither, so an exchange in such a take is missed. Mixes and fed lines (playback, click,
guide) take over what is sent to them and are left out, save for time code. Fewer than five takes give nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from rollsound.finding import Area, Finding, Ref, Weight

SOURCE = "measured on these files; the margins are common practice, no source"
FEWEST_OTHERS = 4
LEAST_SURE = 0.8
_LONGEST_DAY_SECONDS = 18 * 3600.0
_DAY_SECONDS = 86_400.0
_MOST_ODD = 0.25  # of the other takes, in which a track may read as another kind
_NEAR = 0.2  # of the distance between two tracks' usual figures: twice this and as much again lie between them
_FLOOR_DB = 6.0
_SAME_EDGE_HZ = 500.0
_ABOVE_EDGE_HZ = 1500.0
_DEAD_DBFS = -90.0
_AGREEING = 0.3  # what an agreeing noise floor leaves of the chance of an error
_LEFT_OUT = ("mix", "mono", "playback", "click", "guide", "talkback")
_CODE = "time code"

Name = tuple[str, int]
"""A track's name without case, and which of several of that name in the take."""


@dataclass(frozen=True)
class TrackProfile:
    """What was measured on one track that is characteristic of its line; ``kind_guess`` as in the survey."""

    name: str
    kind_guess: str
    bandwidth_hz: float
    noise_floor_dbfs: float
    dc: float


@dataclass(frozen=True)
class FileProfile:
    """One file; files of a set of mono files each hold a part of one take. Start since midnight."""

    path: str
    start_samples: int
    frames: int
    sample_rate_hz: int
    tracks: tuple[TrackProfile, ...]


@dataclass(frozen=True)
class _Take:
    name: str
    tracks: Mapping[Name, TrackProfile]
    places: Mapping[Name, Ref]


@dataclass(frozen=True)
class _Hint:
    """In ``take`` the tracks of ``first`` read as those of ``second`` otherwise do, and the other way."""

    take: int
    first: tuple[Name, ...]
    second: tuple[Name, ...]
    told: str
    others: int
    chance: float


def exchanged_tracks(files: Iterable[FileProfile]) -> list[Finding]:
    """Hints that tracks of one take are exchanged, one for each set of tracks.

    Parameters
    ----------
    files
        all files of a day, of one recorder or of several that name their tracks alike; in any order

    A change that stays to the end of the day, or was undone early in it, is a new set-up and is not told.
    """
    takes = _takes(files)
    names = sorted({name for take in takes for name in take.tracks})
    hints: list[_Hint] = []
    for number in range(len(takes)):
        for rule in (_by_kind, _by_code, _by_bandwidth, _by_dc):
            hints += [hint for hint in rule(takes, number, names) if 1.0 - hint.chance >= LEAST_SURE]
    together: dict[frozenset[Name], list[_Hint]] = {}
    for hint in hints:
        together.setdefault(frozenset(hint.first + hint.second), []).append(hint)
    return [_finding(takes, own) for tracks, own in together.items() if not _stays(takes, tracks, own)]


def day_order(starts_seconds: Sequence[float]) -> list[int]:
    """Indexes in the order of the day, from seconds since midnight.

    A day that would last longer than people work went through midnight, and begins after its longest pause.
    """
    starts = list(starts_seconds)
    if starts and max(starts) - min(starts) > _LONGEST_DAY_SECONDS:
        clock = np.sort(starts)
        first = float(clock[int(np.argmax(np.diff(clock))) + 1])
        starts = [start if start >= first else start + _DAY_SECONDS for start in starts]
    return sorted(range(len(starts)), key=lambda n: starts[n])


def _takes(files: Iterable[FileProfile]) -> list[_Take]:
    """Mono files of one folder that begin and end together are one take."""
    groups: dict[object, list[FileProfile]] = {}
    for file in files:
        alone = len(file.tracks) != 1
        folder, _ = _folder_and_name(file.path)
        key = file.path if alone else (folder, file.start_samples, file.frames, file.sample_rate_hz)
        groups.setdefault(key, []).append(file)
    takes = [_take(group) for group in groups.values()]
    starts = [group[0].start_samples / group[0].sample_rate_hz for group in groups.values()]
    return [takes[n] for n in day_order(starts)]


def _take(group: Sequence[FileProfile]) -> _Take:
    tracks: dict[Name, TrackProfile] = {}
    places: dict[Name, Ref] = {}
    count: dict[str, int] = {}
    for file in group:
        for number, track in enumerate(file.tracks, 1):
            name = track.name.strip().casefold()
            count[name] = count.get(name, -1) + 1
            tracks[name, count[name]] = track
            places[name, count[name]] = Ref(path=file.path, track=number, length_samples=file.frames)
    _, name = _folder_and_name(group[0].path)
    return _Take(name.rpartition(".")[0] or name, tracks, places)


def _folder_and_name(path: str) -> tuple[str, str]:
    folder, _, name = path.replace("\\", "/").rpartition("/")
    return folder, name


def _is_line(name: Name) -> bool:
    return not any(word in name[0] for word in _LEFT_OUT)


def _others(takes: Sequence[_Take], number: int, *names: Name) -> list[_Take]:
    return [take for n, take in enumerate(takes) if n != number and all(name in take.tracks for name in names)]


# ---- radio and cable


def _by_kind(takes: Sequence[_Take], number: int, names: Sequence[Name]) -> list[_Hint]:
    """Cable tracks that read as radio, paired with radio tracks that read as cable."""
    take = takes[number]
    edges = _edges([t for n, t in enumerate(takes) if n != number])
    here = {name: _reading(take.tracks[name], edges) for name in names if name in take.tracks and _is_line(name)}
    odd: dict[Name, float] = {}
    home: dict[str, list[Name]] = {"cable": [], "radio": []}
    fewest = len(takes)
    for name in here:
        read = [_reading(t.tracks[name], edges) for t in _others(takes, number, name)]
        for kind, other in (("cable", "radio"), ("radio", "cable")):
            own, wrong = read.count(kind), read.count(other)
            if own + wrong >= FEWEST_OTHERS and wrong <= _MOST_ODD * (own + wrong):
                home[kind].append(name)
                odd[name] = _rare(wrong, own + wrong)
                fewest = min(fewest, own + wrong)
    moved = {
        kind: [name for name in home[kind] if here[name] == other]
        for kind, other in (("cable", "radio"), ("radio", "cable"))
    }
    pairs = _matched(takes, number, moved["cable"], moved["radio"])
    if not pairs or len(pairs) < len(moved["cable"]):
        return []
    chance = float(len(home["cable"]) * len(home["radio"]))
    for n, kind in enumerate(("cable", "radio")):
        taken = {pair[0] if n == 0 else pair[1] for pair in pairs}
        # how often this kind goes wrong in this very take: a quiet one makes many radios read as cable
        rest = [name for name in home[kind] if name not in taken and here[name] in home]
        wrong = sum(name in moved[kind] for name in rest)
        chance *= max(wrong / len(rest) if rest else 0.0, min(odd[name] for name in taken))
    chance *= math.prod(_AGREEING if agrees else 1.0 for _, _, agrees in pairs)
    first, second = tuple(sorted({p[0] for p in pairs})), tuple(sorted({p[1] for p in pairs}))
    a, b = _list(take, first), _list(take, second)
    reads = ("reads", "read") if len(first) == 1 else ("read", "read")
    told = f"{a} {reads[0]} as radio and {b} as cable, in the other takes it is the other way"
    return [_Hint(number, first, second, told, fewest, chance)]


def _edges(takes: Iterable[_Take]) -> list[float]:
    """Where the day's radios end, one figure for each track that is surely radio in two takes or more."""
    seen: dict[Name, list[float]] = {}
    for take in takes:
        for name, track in take.tracks.items():
            if track.kind_guess == "radio" and _is_line(name):
                seen.setdefault(name, []).append(track.bandwidth_hz)
    return sorted({float(np.median(values)) for values in seen.values() if len(values) >= 2})


def _reading(track: TrackProfile, edges: Sequence[float]) -> str:
    """Radio, cable or unknown, where the day's radios help to tell what one file could not.

    Sound that ends just where they do counts as radio, steep fall or not; sound that goes on well above came through
    none of them. A dead line tells nothing: its converter's noise reaches as high as a cable's.
    """
    if not track.noise_floor_dbfs > _DEAD_DBFS:
        return "unknown"
    if track.kind_guess == "unknown" and edges:
        if any(abs(track.bandwidth_hz - edge) <= _SAME_EDGE_HZ for edge in edges):
            return "radio"
        if track.bandwidth_hz >= edges[-1] + _ABOVE_EDGE_HZ:
            return "cable"
    return track.kind_guess


def _matched(
    takes: Sequence[_Take], number: int, cables: Sequence[Name], radios: Sequence[Name]
) -> list[tuple[Name, Name, bool]]:
    """Each cable track with the radio track whose place it most likely has: the noise floors must not contradict."""
    cost = np.full((len(cables), len(radios)), np.inf)
    agrees = np.zeros(cost.shape, np.bool_)
    for i, x in enumerate(cables):
        for j, y in enumerate(radios):
            found = _floors(takes, number, x, y)
            if found is not None:
                cost[i, j], agrees[i, j] = found
    usable = np.isfinite(cost)
    if not usable.any():
        return []
    rows, columns = linear_sum_assignment(np.where(usable, cost, 1e6))
    chosen = [(int(i), int(j)) for i, j in zip(rows, columns, strict=True)]
    return [(cables[i], radios[j], bool(agrees[i, j])) for i, j in chosen if bool(usable[i, j])]


def _floors(takes: Sequence[_Take], number: int, x: Name, y: Name) -> tuple[float, bool] | None:
    """How far the difference of floors is from the exchanged one, and whether it speaks for it; None: against it."""
    apart = [_apart(take, x, y) for take in _others(takes, number, x, y)]
    usual = np.array([d for d in apart if math.isfinite(d)])
    now = _apart(takes[number], x, y)
    if not math.isfinite(now):
        return None
    if usual.size < FEWEST_OTHERS:
        return abs(now), False
    middle = float(np.median(usual))
    spread = float(np.quantile(np.abs(usual - middle), 0.75))
    if abs(middle) < _FLOOR_DB or spread > abs(middle) / 2.0:
        return abs(now + middle), False
    return (abs(now + middle), True) if now / middle <= -0.25 else None


def _apart(take: _Take, x: Name, y: Name) -> float:
    return take.tracks[x].noise_floor_dbfs - take.tracks[y].noise_floor_dbfs


def _rare(wrong: int, of: int) -> float:
    """The chance of a wrong reading, from how many there were; never nought, however few takes."""
    return (wrong + 0.5) / (of + 1.0)


# ---- time code


def _by_code(takes: Sequence[_Take], number: int, names: Sequence[Name]) -> list[_Hint]:
    """Time code on another track than in every other take, and sound on its own."""
    take = takes[number]
    here = [name for name in names if name in take.tracks]
    out = []
    for x in here:
        own = [t.tracks[x].kind_guess for t in _others(takes, number, x)]
        sounds = math.isfinite(take.tracks[x].noise_floor_dbfs)
        if len(own) < FEWEST_OTHERS or set(own) != {_CODE} or take.tracks[x].kind_guess == _CODE or not sounds:
            continue
        for y in here:
            read = [t.tracks[y].kind_guess for t in _others(takes, number, x, y)]
            if len(read) >= FEWEST_OTHERS and _CODE not in read and take.tracks[y].kind_guess == _CODE:
                told = f"{_list(take, [y])} carries time code and {_list(take, [x])} does not"
                out.append(_Hint(number, (x,), (y,), told, len(read), 0.02))
    return out


# ---- figures


def _by_bandwidth(takes: Sequence[_Take], number: int, names: Sequence[Name]) -> list[_Hint]:
    """Two radios of different makes: only readings of an edge count, as quiet sound ends lower."""

    def edge(track: TrackProfile) -> float:
        return track.bandwidth_hz if track.kind_guess == "radio" else float("nan")

    lines = [name for name in names if _is_line(name)]
    return _by_figure(takes, number, lines, edge, 1500.0, lambda v: f"reaches to {v / 1000.0:.1f} kHz")


def _by_dc(takes: Sequence[_Take], number: int, names: Sequence[Name]) -> list[_Hint]:
    """A constant offset belongs to one input or pack."""

    def offset(track: TrackProfile) -> float:
        return track.dc if math.isfinite(track.noise_floor_dbfs) and track.kind_guess != _CODE else float("nan")

    lines = [name for name in names if _is_line(name)]
    return _by_figure(takes, number, lines, offset, 1e-3, lambda v: f"has {100.0 * v:+.2f} % DC")


def _by_figure(
    takes: Sequence[_Take],
    number: int,
    names: Sequence[Name],
    figure: Callable[[TrackProfile], float],
    least_apart: float,
    tell: Callable[[float], str],
) -> list[_Hint]:
    """Pairs whose usual figures lie well apart and are exchanged in this take."""
    take = takes[number]
    usual: dict[Name, NDArray[np.float64]] = {}
    now: dict[Name, float] = {}
    for name in names:
        if name in take.tracks and math.isfinite(value := figure(take.tracks[name])):
            values = np.array([figure(other.tracks[name]) for other in _others(takes, number, name)])
            values = values[np.isfinite(values)]
            if values.size >= FEWEST_OTHERS:
                usual[name], now[name] = values, value
    out, apart_pairs = [], 0
    order = list(usual)
    for i, x in enumerate(order):
        for y in order[i + 1 :]:
            a, b = float(np.median(usual[x])), float(np.median(usual[y]))
            if abs(b - a) < least_apart:
                continue
            apart_pairs += 1
            steady = np.max(np.abs(usual[x] - a)) <= _NEAR * abs(b - a) >= np.max(np.abs(usual[y] - b))
            if steady and max(abs(now[x] - b), abs(now[y] - a)) <= _NEAR * abs(b - a):
                others = min(usual[x].size, usual[y].size)
                told = f"{_list(take, [x])} {tell(now[x])} and {_list(take, [y])} {tell(now[y])}, in the other takes "
                told += "it is the other way"
                chance = _rare(0, usual[x].size) * _rare(0, usual[y].size)
                out.append((x, y, told, others, chance))
    return [_Hint(number, (x,), (y,), told, others, chance * apart_pairs) for x, y, told, others, chance in out]


# ---- telling


def _stays(takes: Sequence[_Take], tracks: Iterable[Name], hints: Sequence[_Hint]) -> bool:
    """Whether two or more takes at one end of the day are meant, and no other: a new set-up."""
    names = list(tracks)
    both = [n for n, take in enumerate(takes) if all(name in take.tracks for name in names)]
    meant = sorted({hint.take for hint in hints})
    return len(meant) >= 2 and meant in (both[: len(meant)], both[-len(meant) :])


def _finding(takes: Sequence[_Take], hints: Sequence[_Hint]) -> Finding:
    numbers = sorted({hint.take for hint in hints})
    names = sorted({*hints[0].first, *hints[0].second})
    tracks = _list(takes[numbers[0]], names)
    where = _words([takes[n].name for n in numbers])
    told = "; ".join(dict.fromkeys(hint.told for hint in hints))
    sure = 1.0 - min(hint.chance for hint in hints)
    return Finding(
        area=Area.MEDIA,
        weight=Weight.WATCH,
        subject=f"{where}, {tracks}",
        kind="tracks seem exchanged",
        what=f"In {where} the tracks {tracks} seem to be exchanged: {told}.",
        why="A line keeps its band and its offset all day, so a take in which two of them trade both was crossed at "
        "the patch or named wrongly. This is a hint, not a proof.",
        remedy=f"Listen to a line on each; if the voices do not fit the names, exchange the names in {where} for post "
        "and check the patch before the next take. If a boom went by radio or a pack by cable here, nothing is wrong.",
        source=SOURCE,
        numbers={
            "confidence": sure,
            "takes": float(len(numbers)),
            "takes_otherwise": float(min(hint.others for hint in hints)),
        },
        refs=tuple(takes[n].places[name] for n in numbers for name in names),
    )


def _list(take: _Take, names: Sequence[Name]) -> str:
    return _words([take.tracks[name].name.strip() or "a track without a name" for name in names])


def _words(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
