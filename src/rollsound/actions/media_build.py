"""One take of the media index: its files, tracks, findings and the spots to look at."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from pathlib import Path

from rollsound.actions.conform_result import ConformTake, ConformTrack
from rollsound.actions.gather import in_order
from rollsound.actions.inspect import FileReport, InspectResult, TrackReport
from rollsound.actions.media_model import MediaMember, MediaSpot, MediaTake, MediaTrack
from rollsound.actions.media_settled import made_of, settled
from rollsound.errors import RollsoundError
from rollsound.finding import Area, Finding, Weight
from rollsound.turnover.model import Rebuilt
from rollsound.wave import WaveInfo, read_info

NOT_LOOKED_FOR = "no card was looked for"
"""What conform says of mixes, booms and the like."""

_BY_WEIGHT = list(Weight)


class KnownFiles:
    """What was measured, found by where a file lies now, or (once a show was moved) by name, size and time."""

    def __init__(self, folder: Path, measured: InspectResult) -> None:
        self._folder = folder
        self._by_path = {Path(report.path): report for report in measured.files}
        self._by_look = {
            (Path(report.path).name, report.size_bytes, report.modified_ns): report for report in measured.files
        }

    def of(self, path: Path) -> FileReport | None:
        """What was measured of this file."""
        if path in self._by_path:
            return self._by_path[path]
        try:
            stat = path.stat()
        except OSError:
            return None
        return self._by_look.get((path.name, stat.st_size, stat.st_mtime_ns))

    def below(self, folder: Path) -> list[Path]:
        """Files that were measured in this folder."""
        return [path for path in self._by_path if folder in path.parents]

    def overview(self, report: FileReport) -> Path | None:
        """Where its waveform is kept."""
        if not report.overview:
            return None
        kept = Path(report.overview)
        for place in (kept, self._folder / kept.name):
            if place.is_file():
                return place
        return None

    def order(self, path: Path) -> tuple[object, ...]:
        """Takes stand in the order they were recorded, then by name."""
        report = self.of(path)
        return (
            report.start_samples / report.sample_rate_hz if report and report.sample_rate_hz else math.inf,
            in_order(path.name),
        )


def take_as_recorded(
    day: str, group: Sequence[Path], known: KnownFiles, done: ConformTake | None, mode: str
) -> MediaTake:
    """A take as the recorder wrote it, with what became of its tracks on their cards."""
    return _take(day, "recorder", group, known, done, made_of(done, mode) if done is not None else {})


def take_as_rebuilt(day: str, group: Sequence[Path], known: KnownFiles, done: ConformTake, *, other: str) -> MediaTake:
    """A take as conform made it. What it says of itself was measured, where it was inspected."""
    return _take(day, "mirror", group, known, done, {}).model_copy(update={"other": other})


def _take(
    day: str,
    role: str,
    group: Sequence[Path],
    known: KnownFiles,
    done: ConformTake | None,
    made: dict[str, Rebuilt],
) -> MediaTake:
    reports = [known.of(path) for path in group]
    infos, problem = _infos(group)
    members = tuple(
        _member(path, report, info, known) for path, report, info in zip(group, reports, infos, strict=True)
    )
    tracks = _tracks(members, reports, infos, done, made)
    found = _findings(members, reports, tracks, made)
    found += [(finding, ()) for finding in _unread(reports)]
    found.sort(key=lambda each: _BY_WEIGHT.index(each[0].weight))
    spots = tuple(spot for n, (_, places) in enumerate(found) for spot in _numbered(places, n, found[n][0].weight))
    first, info = next((each for each in reports if each), None), next((each for each in infos if each), None)
    rate = info.format.sample_rate_hz if info else first.sample_rate_hz if first else 0
    weights: dict[int, Weight] = {}
    for spot in sorted(spots, key=lambda each: -_BY_WEIGHT.index(each.weight)):
        weights[spot.track] = spot.weight
    return MediaTake(
        id=_id(group[0]),
        day=day,
        role=role,
        name=_name(group),
        members=members,
        tracks=tuple(track.model_copy(update={"weight": weights.get(track.index, Weight.FINE)}) for track in tracks),
        findings=tuple(finding for finding, _ in found),
        spots=spots,
        sample_rate_hz=rate,
        frames=max([each.frames for each in infos if each] or [each.frames for each in reports if each] or [0]),
        start_samples=info.start_samples if info else first.start_samples if first else 0,
        timecode=(first.timecode if first else "") or (done.timecode if done else ""),
        frame_rate=first.frame_rate if first else str(info.rate or "") if info else "",
        sample_format=info.format.sample_format.value if info else first.sample_format if first else "",
        scene=info.scene if info else first.scene if first else "",
        take=info.take if info else first.take if first else "",
        sound_roll=info.sound_roll if info else first.sound_roll if first else "",
        circled=info.circled if info else first.circled if first else False,
        note=info.note if info else first.note if first else "",
        problem=problem,
    )


def last_part(path: str) -> str:
    """The last part of a path that may have been written on another system."""
    return path.replace("\\", "/").rpartition("/")[2]


def told_of(error: RollsoundError, path: Path, name: str = "") -> str:
    """The sentence, with the file's name in place of its path: other devices need not know this machine's folders."""
    sentence = error.sentence.replace(str(path), name or path.name).rstrip(".")
    # A name is told as it is written, at the head of a sentence too.
    return f"{sentence}." if error.sentence.startswith(str(path)) else f"{sentence[:1].upper()}{sentence[1:]}."


def _infos(group: Sequence[Path]) -> tuple[list[WaveInfo | None], str]:
    infos: list[WaveInfo | None] = []
    problem = ""
    for path in group:
        try:
            infos.append(read_info(path))
        except RollsoundError as error:
            infos.append(None)
            problem = problem or told_of(error, path)
    return infos, problem


def _member(path: Path, report: FileReport | None, info: WaveInfo | None, known: KnownFiles) -> MediaMember:
    size, changed = report.size_bytes if report else 0, False
    try:
        stat = path.stat()
        present, size = True, stat.st_size
        changed = report is not None and (report.size_bytes, report.modified_ns) != (stat.st_size, stat.st_mtime_ns)
    except OSError:
        present = False
    overview = known.overview(report) if report else None
    return MediaMember(
        path=path,
        name=path.name,
        channels=info.format.channels if info else report.channels if report else 0,
        size_bytes=size,
        overview=overview,
        overview_kept=overview is not None,
        measured=report is not None and not report.problem and not changed,
        present=present,
        changed=changed,
    )


def _tracks(
    members: Sequence[MediaMember],
    reports: Sequence[FileReport | None],
    infos: Sequence[WaveInfo | None],
    done: ConformTake | None,
    made: dict[str, Rebuilt],
) -> list[MediaTrack]:
    conformed = {track.index: track for track in done.tracks} if done is not None else {}
    tracks: list[MediaTrack] = []
    for n, (member, report, info) in enumerate(zip(members, reports, infos, strict=True)):
        for channel in range(1, member.channels + 1):
            index = len(tracks) + 1
            measured = report.tracks[channel - 1] if report and channel <= len(report.tracks) else None
            on_card = conformed.get(index)
            name = info.track_names[channel - 1] if info else measured.name if measured else ""
            tracks.append(_track(index, n, channel, name, measured, on_card, name in made))
    return tracks


def _track(
    index: int,
    member: int,
    channel: int,
    name: str,
    measured: TrackReport | None,
    on_card: ConformTrack | None,
    rebuilt: bool,
) -> MediaTrack:
    return MediaTrack(
        index=index,
        member=member,
        channel=channel,
        name=name,
        kind=measured.kind_guess if measured else "",
        peak_dbfs=_figure(measured.sample_peak_dbfs) if measured else None,
        loudness_lufs=_figure(measured.integrated_lufs) if measured else None,
        noise_floor_dbfs=_figure(measured.noise_floor_dbfs) if measured else None,
        conform=on_card and on_card.model_copy(update={"card_file": last_part(on_card.card_file)}),
        looked_for=on_card is not None and bool(on_card.card or on_card.reason != NOT_LOOKED_FOR),
        rebuilt=rebuilt,
    )


def _findings(
    members: Sequence[MediaMember],
    reports: Sequence[FileReport | None],
    tracks: Sequence[MediaTrack],
    made: dict[str, Rebuilt],
) -> list[tuple[Finding, tuple[MediaSpot, ...]]]:
    """Each finding as it weighs after mending, with its places counted over all files of the take."""
    found = []
    for n, report in enumerate(reports):
        own = {track.channel: track for track in tracks if track.member == n}
        for finding in report.all_findings if report else ():
            names = {own[ref.track].name for ref in finding.refs if ref.track in own}
            shown = settled(finding, names, made)
            places = tuple(
                MediaSpot(
                    track=own[ref.track].index,
                    start_sample=ref.start_sample,
                    length_samples=ref.length_samples,
                    kind=finding.kind.replace("-", " "),
                    weight=shown.weight,
                    timecode=ref.timecode,
                    finding=0,
                )
                for ref in finding.refs
                if ref.track in own and ref.length_samples > 0 and finding.weight is not Weight.FINE
            )
            # Paths are for this machine only; the take is known.
            refs = tuple(ref.model_copy(update={"path": members[n].name}) for ref in shown.refs)
            found.append((shown.model_copy(update={"refs": refs}), places))
    return found


def _unread(reports: Sequence[FileReport | None]) -> list[Finding]:
    return [
        Finding(
            area=Area.MEDIA,
            weight=Weight.STOP,
            subject=Path(report.path).name,
            kind="unreadable",
            what=f"{report.problem.replace(report.path, Path(report.path).name).rstrip('.')}.",
            source="common practice, no source",
        )
        for report in reports
        if report is not None and report.problem
    ]


def _numbered(places: Sequence[MediaSpot], finding: int, weight: Weight) -> list[MediaSpot]:
    return [place.model_copy(update={"finding": finding, "weight": weight}) for place in places]


def _name(group: Sequence[Path]) -> str:
    """One file's name, or what the names of a set have in common."""
    if len(group) == 1:
        return group[0].stem
    stems = [path.stem for path in group]
    common = stems[0]
    for stem in stems[1:]:
        while not stem.startswith(common):
            common = common[:-1]
    return common.rstrip(" _-.") or stems[0]


def _id(path: Path) -> str:
    return hashlib.sha256(str(path).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _figure(value: float) -> float | None:
    return value if math.isfinite(value) else None
