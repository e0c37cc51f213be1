"""Conform: find which card is which track, fit its clock, and rebuild, mend or compare the radio tracks.

A plan comes first: plain data that can be shown, edited and carried out later.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from rollsound.actions.conform_plan import plan_given, refuse_settled, write_plan
from rollsound.actions.conform_result import (
    EARLIER_PLAN_NAME,
    OTIO_NAME,
    PLAN_NAME,
    RESULT_NAME,
    SHEETS,
    CardReport,
    ConformResult,
    ConformTake,
    ConformTrack,
)
from rollsound.actions.day import card_folders, row_of, take_sets
from rollsound.actions.gather import audio_files, refuse_unreadable_names
from rollsound.actions.jobs import cores
from rollsound.conform.carry_out import carry_out, with_damage
from rollsound.conform.day import DayAlignment
from rollsound.conform.doubles import findings_of_doubles
from rollsound.conform.lists import report_csv, segments_csv, spans_csv, timeline_json
from rollsound.conform.match import align_day
from rollsound.conform.model import Place
from rollsound.conform.outcome import TakeOutcome, TrackOutcome
from rollsound.conform.plan import Action, ConformPlan, TakePlan, TrackPlan
from rollsound.conform.planning import make_plan
from rollsound.conform.proofs import findings_of_conform
from rollsound.conform.sheets import missing_files, unknown_cards, unknown_tracks
from rollsound.conform.sources import TakeSource, card_source, take_source
from rollsound.errors import InputError, StorageError, storage
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.log import TakeRow, read_takes, read_wearers
from rollsound.progress import Progress
from rollsound.timecode import Rate, timecode_of_samples
from rollsound.turnover.place import only_one
from rollsound.turnover.walking import PART
from rollsound.wave import WaveInfo, read_info
from rollsound.wave.disk import discard
from rollsound.whole import write_whole

LEFT_OUT_KINDS = frozenset({"no good"})


def conform(
    recorder: Path,
    *,
    cards: Path,
    out: Path,
    mode: str | None = None,
    takes_sheet: Path | None = None,
    wearers_sheet: Path | None = None,
    place: str | None = None,
    path_delay_seconds: float | None = None,
    plan: Path | None = None,
    plan_only: bool = False,
    progress: Progress | None = None,
) -> ConformResult:
    """Conform recorder files to cards.

    Parameters
    ----------
    recorder, cards, out
        a file or a folder; a folder with one folder a card (or a card's file); where results go
    mode
        ``mirror`` (when None), ``mend`` or ``compare``
    takes_sheet
        takes marked no good there are left out
    place, path_delay_seconds
        ``source`` places a card at the time of the sound at the microphone, which needs the path's delay; ``track``
        when None
    plan
        carry out this plan instead of making one; what else is given must agree with it
    plan_only
        write the plan, and stop

    Raises
    ------
    InputError, StorageError, Halted
        in one sentence; finished takes are kept and a second run goes on from there
    """
    progress = progress or Progress()
    if place == "source" and path_delay_seconds is None and plan is None:
        raise InputError("to place cards at the source, the radio path's delay is needed; state it with --path-delay")
    if path_delay_seconds is not None and path_delay_seconds < 0:
        raise InputError("a radio path's delay cannot be negative; state how much later the track is, such as '3 ms'")
    _check_places(recorder, cards, out)
    wearers = _wearers(wearers_sheet)
    made: _Made | None = None
    if plan is not None:
        settled = {"--takes": takes_sheet, "--place": place, "--path-delay": path_delay_seconds}
        settled["--plan-only"] = plan_only or None
        refuse_settled([name for name, value in settled.items() if value is not None], plan)
        given = plan_given(plan, recorder=recorder, cards=cards, out=out, mode=mode)
        made = _Made(given, findings=_against_plan(given, recorder, cards, wearers))
    with storage(out):
        out.mkdir(parents=True, exist_ok=True)
    with only_one(out):
        if made is None:
            delay = path_delay_seconds or 0.0
            made = _plan(
                recorder, cards, out, mode or "mirror", takes_sheet, wearers, place or "track", delay, progress
            )
            kept = write_plan(out, made.plan)
            made = replace(made, findings=(*made.findings, *kept))
        _tidy(out, made.plan)
        outcomes = [] if plan_only else [carry_out(take, progress) for take in made.plan.takes]
        lists = _write_lists(out, outcomes, progress)
        result = _result(made, outcomes, out, plan or out / PLAN_NAME, lists, wearers)
        if not plan_only:  # what lies there may tell of mirrors that were made, and turnover stands on it
            write_whole(out / RESULT_NAME, result.model_dump_json(indent=1))
    return result


@dataclass(frozen=True)
class _Made:
    """A plan, what it was made from (None when it was given), and what was found beside the sound."""

    plan: ConformPlan
    day: DayAlignment | None = None
    findings: tuple[Finding, ...] = ()


def _against_plan(plan: ConformPlan, recorder: Path, cards: Path, wearers: Mapping[str, str]) -> tuple[Finding, ...]:
    if not wearers:
        return ()
    names = [name for name, _ in card_folders(cards, audio_files([cards]))]
    tracks = [track.name for take in plan.takes for track in take.tracks]
    return _sheet_findings(recorder, cards, wearers, names, tracks)


def _sheet_findings(
    recorder: Path, cards: Path, wearers: Mapping[str, str], card_names: Sequence[str], tracks: Sequence[str]
) -> tuple[Finding, ...]:
    """Names on the wearers sheet that nothing has. Of a single file, no sheet of a day is expected to be right."""
    return (
        *(unknown_cards(wearers, card_names) if cards.is_dir() else ()),
        *(unknown_tracks(wearers, tracks) if recorder.is_dir() else ()),
    )


def _tidy(out: Path, plan: ConformPlan) -> None:
    """Remove what an earlier run, killed on its way, left half-written of these very files."""
    ours = {Path(member.output).name for take in plan.takes for member in take.members if member.output}
    ours |= {f"{name}.json" for name in ours} | {PLAN_NAME, EARLIER_PLAN_NAME, RESULT_NAME, OTIO_NAME, *SHEETS}
    for part in [path for path in out.rglob("*.part-*") if PART.search(path.name)]:
        if PART.sub("", part.name).removeprefix(".") in ours:
            discard(part)


def _check_places(recorder: Path, cards: Path, out: Path) -> None:
    target = out.resolve()
    if recorder.resolve() == cards.resolve():
        raise InputError(f"{cards} was named as the recorder's files and as the cards; name the folder of cards")
    for source in (recorder, cards):
        with storage(source):
            source.stat()
        folder = source if source.is_dir() else source.parent
        if folder.resolve() == target:
            raise InputError(f"{out} holds the sources; name another folder for what is made")


def _plan(
    recorder: Path,
    cards: Path,
    out: Path,
    mode: str,
    takes_sheet: Path | None,
    wearers: dict[str, str],
    place: str,
    path_delay_seconds: float,
    progress: Progress,
) -> _Made:
    rows = read_takes(takes_sheet) if takes_sheet else []
    named = audio_files([recorder], leave_out=[out, cards])
    recorded, unread = _readable(named)
    on_cards, unread_there = _readable(audio_files([cards]))
    groups = take_sets(recorded)
    files = {_name(group): group for group in groups if not _left_out(group, rows)}
    if not files:
        raise InputError(
            f"every take in {recorder} is marked as left out in {takes_sheet}; there is nothing to conform"
        )
    takes = [take_source(name, group) for name, group in files.items()]
    sources = [card_source(name, paths) for name, paths in card_folders(cards, on_cards)]
    with ThreadPoolExecutor(max_workers=cores()) as pool:
        try:
            day = align_day(
                takes,
                sources,
                wearers=wearers,
                place=Place(place),
                path_delay_seconds=path_delay_seconds,
                progress=progress,
                executor=pool,
            )
        except BaseException:
            progress.stop()
            raise
    made = make_plan(day.tracks, files, mode, out)
    _check_unchanged(takes, made)
    tracks = [name for info in recorded.values() for name in info.track_names]
    findings = (
        *(_unread(path, sentence) for path, sentence in (unread | unread_there).items()),
        *(_without_file(rows, [*groups, *((Path(path),) for path in unread)]) if recorder.is_dir() else ()),
        *_sheet_findings(recorder, cards, wearers, [source.name for source in sources], tracks),
    )
    return _Made(with_damage(made, progress), day, findings)


def _without_file(rows: Sequence[TakeRow], groups: Sequence[Sequence[Path]]) -> list[Finding]:
    unmatched = [row.file for row in rows if not any(row_of(group, [row]) for group in groups)]
    return missing_files(unmatched, [path.name for group in groups for path in group])


def _readable(paths: Sequence[Path]) -> tuple[dict[Path, WaveInfo], dict[str, str]]:
    """The files that can be read, and why the others cannot: one broken file must not cost the whole night.

    Raises InputError or StorageError when not one of them can be read, or a name can stand in no plan.
    """
    refuse_unreadable_names(paths)
    read: dict[Path, WaveInfo] = {}
    unread: dict[str, str] = {}
    for path in paths:
        try:
            read[path] = read_info(path)
        except (InputError, StorageError) as error:
            unread[str(path)] = error.sentence
            if len(unread) == len(paths):
                raise
    return read, unread


def _unread(path: str, sentence: str) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.STOP,
        subject=Path(path).name,
        kind="unreadable",
        what=f"Left out: {sentence}.",
        remedy="The rest was conformed without it; when it can be read, run conform again into another folder.",
        source="common practice, no source",
        refs=(Ref(path=path),),
    )


def _check_unchanged(takes: Sequence[TakeSource], plan: ConformPlan) -> None:
    """A take not as long as when it was listened to is not rebuilt: its clock was fitted to other sound."""
    heard = {take.name: take.frames for take in takes}
    for planned in plan.takes:
        if planned.frames != heard[planned.take]:
            path = planned.members[0].file.path
            raise InputError(
                f"{path} changed while it was listened to ({heard[planned.take]} frames, now {planned.frames}); "
                "see that nothing writes to it, and run again"
            )


def _wearers(sheet: Path | None) -> dict[str, str]:
    return {row.track: row.card for row in read_wearers(sheet) if row.card} if sheet else {}


def _name(group: Sequence[Path]) -> str:
    return group[0].stem


def _left_out(group: Sequence[Path], rows: Sequence[TakeRow]) -> bool:
    row = row_of(group, rows)
    return row is not None and row.kind in LEFT_OUT_KINDS


def _write_lists(out: Path, outcomes: Sequence[TakeOutcome], progress: Progress) -> tuple[str, ...]:
    if not outcomes:
        return ()
    texts = {
        SHEETS[0]: segments_csv(outcomes),
        SHEETS[1]: report_csv(outcomes),
        SHEETS[2]: spans_csv(outcomes),
        OTIO_NAME: timeline_json(outcomes, out.resolve().name),
    }
    for name, text in texts.items():
        progress.check()
        write_whole(out / name, text)
    return tuple(str(out / name) for name in texts)


def _result(
    made: _Made,
    outcomes: Sequence[TakeOutcome],
    out: Path,
    plan_path: Path,
    lists: tuple[str, ...],
    wearers: dict[str, str],
) -> ConformResult:
    plan, day = made.plan, made.day
    by_take = {outcome.take: outcome for outcome in outcomes}
    takes = tuple(_take(take, by_take.get(take.take)) for take in plan.takes)
    return ConformResult(
        mode=plan.mode.value,
        takes=takes,
        cards=_cards(day, takes) if day is not None else (),
        findings=(
            *made.findings,
            *(findings_of_doubles(day) if day is not None else ()),
            *findings_of_conform(plan, outcomes, wearers),
        ),
        folder=str(out),
        plan=str(plan_path),
        lists=lists,
        carried_out=bool(outcomes),
    )


def _take(plan: TakePlan, outcome: TakeOutcome | None) -> ConformTake:
    done = {track.index: track for track in outcome.tracks} if outcome else {}
    rate = Rate.parse(plan.time_rate) if plan.time_rate else None
    label = str(timecode_of_samples(plan.start_samples, plan.sample_rate_hz, rate)[0]) if rate else ""
    return ConformTake(
        recorder=tuple(member.file.path for member in plan.members),
        output=tuple(member.output for member in plan.members if member.output) if outcome else (),
        resumed=outcome.resumed if outcome else (),
        sample_rate_hz=plan.sample_rate_hz,
        frames=plan.frames,
        start_samples=plan.start_samples,
        timecode=label,
        tracks=tuple(_track(track, done.get(track.index)) for track in plan.tracks),
    )


def _track(plan: TrackPlan, done: TrackOutcome | None) -> ConformTrack:
    return ConformTrack(
        index=plan.index + 1,
        name=plan.name,
        card=plan.card_name,
        card_file=plan.main_piece.file.path if plan.main_piece else "",
        outcome=plan.outcome.value,
        action=plan.action.value,
        reason=plan.reason,
        offset_samples=plan.offset_samples,
        rate_ppm=plan.rate_ppm,
        residual_samples=plan.residual_samples,
        uncertainty_samples=plan.uncertainty_samples,
        confidence=plan.confidence,
        coherence=plan.coherence,
        place=plan.place.value,
        path_delay_samples=plan.path_delay_samples,
        level_difference_db=done.level_difference_db if done else None,
        polarity=plan.polarity,
        replaced_samples=done.replaced_samples if done else 0,
        spans=(done.spans if done and done.spans else plan.spans) or (),
        not_possible=done.not_possible if done else (),
    )


def _note(*sentences: str) -> str:
    return " ".join(dict.fromkeys(sentence for sentence in sentences if sentence))


def _cards(day: DayAlignment, takes: Sequence[ConformTake]) -> tuple[CardReport, ...]:
    used: dict[str, dict[str, int]] = {}
    for take in takes:
        for track in take.tracks:
            if track.card and track.action != Action.KEEP.value:
                tally = used.setdefault(track.card, {})
                tally[track.name] = tally.get(track.name, 0) + 1
    reports: list[CardReport] = []
    for card in day.cards:
        tally = used.get(card.name, {})
        clock = day.clocks.get(card.name)
        known = clock is not None and bool(clock.observations)
        reports.append(
            CardReport(
                name=card.name,
                files=tuple(file.path for file in card.files),
                stands_for=max(tally, key=lambda name: tally[name]) if tally else "",
                rate_ppm=clock.rate_ppm if clock is not None and known else None,
                takes=sum(tally.values()),
                note=_note(card.note, clock.sentence if clock is not None and known else ""),
            )
        )
    return tuple(reports)
