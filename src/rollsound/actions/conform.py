"""Conform: find which card is which track, fit its clock, and rebuild, mend or compare the radio tracks.

A plan comes first: plain data that can be shown, edited and carried out later.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from rollsound.actions.conform_result import (
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
from rollsound.actions.gather import audio_files, read_text_file, refuse_unreadable_names
from rollsound.actions.jobs import cores
from rollsound.conform.carry_out import carry_out, with_damage
from rollsound.conform.day import DayAlignment
from rollsound.conform.lists import report_csv, segments_csv, spans_csv, timeline_json
from rollsound.conform.match import align_day
from rollsound.conform.model import Place
from rollsound.conform.outcome import TakeOutcome, TrackOutcome
from rollsound.conform.plan import Action, ConformPlan, Mode, TakePlan, TrackPlan
from rollsound.conform.planning import make_plan
from rollsound.conform.proofs import findings_of_conform
from rollsound.conform.sources import TakeSource, card_source, take_source
from rollsound.errors import InputError, StorageError, storage
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.log import read_takes, read_wearers
from rollsound.progress import Progress
from rollsound.timecode import Rate, timecode_of_samples
from rollsound.turnover.place import only_one
from rollsound.turnover.walking import PART
from rollsound.wave import read_info
from rollsound.wave.disk import discard
from rollsound.whole import write_whole

LEFT_OUT_KINDS = frozenset({"no good"})


def conform(
    recorder: Path,
    *,
    cards: Path,
    out: Path,
    mode: str = "mirror",
    takes_sheet: Path | None = None,
    wearers_sheet: Path | None = None,
    place: str = "track",
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
        ``mirror``, ``mend`` or ``compare``
    takes_sheet
        takes marked no good there are left out
    place, path_delay_seconds
        ``source`` places a card at the time of the sound at the microphone, which needs the path's delay
    plan
        carry out this plan instead of making one
    plan_only
        write the plan, and stop

    Raises
    ------
    InputError, StorageError, Halted
        in one sentence; finished takes are kept and a second run goes on from there
    """
    progress = progress or Progress()
    if place == "source" and path_delay_seconds is None:
        raise InputError("to place cards at the source, the radio path's delay is needed; state it with --path-delay")
    if path_delay_seconds is not None and path_delay_seconds < 0:
        raise InputError("a radio path's delay cannot be negative; state how much later the track is, such as '3 ms'")
    _check_places(recorder, cards, out)
    with storage(out):
        out.mkdir(parents=True, exist_ok=True)
    wearers = _wearers(wearers_sheet)
    unread: dict[str, str] = {}
    day: DayAlignment | None = None
    with only_one(out):
        if plan is not None:
            made = ConformPlan.from_json(read_text_file(plan), str(plan))
            for rate in filter(None, (take.time_rate for take in made.takes)):
                Rate.parse(rate)  # what is wrong must be said before anything is written
        else:
            delay = path_delay_seconds or 0.0
            made, day, unread = _plan(recorder, cards, out, mode, takes_sheet, wearers, place, delay, progress)
            write_whole(out / PLAN_NAME, made.to_json())
        _tidy(out, made)
        outcomes = [] if plan_only else [carry_out(take, progress) for take in made.takes]
        lists = _write_lists(out, outcomes, progress)
        result = _result(made, outcomes, day, plan or out / PLAN_NAME, lists, wearers, unread)
        write_whole(out / RESULT_NAME, result.model_dump_json(indent=1))
    return result


def _tidy(out: Path, plan: ConformPlan) -> None:
    """Remove what an earlier run, killed on its way, left half-written of these very files."""
    ours = {Path(member.output).name for take in plan.takes for member in take.members if member.output}
    ours |= {f"{name}.json" for name in ours} | {PLAN_NAME, RESULT_NAME, OTIO_NAME, *SHEETS}
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
) -> tuple[ConformPlan, DayAlignment, dict[str, str]]:
    rows = read_takes(takes_sheet) if takes_sheet else []
    recorded, unread = _readable(audio_files([recorder], leave_out=[out, cards]))
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
    return with_damage(made, progress), day, unread | unread_there


def _readable(paths: Sequence[Path]) -> tuple[list[Path], dict[str, str]]:
    """The files that can be read, and why the others cannot: one broken file must not cost the whole night.

    Raises InputError or StorageError when not one of them can be read, or a name can stand in no plan.
    """
    refuse_unreadable_names(paths)
    unread: dict[str, str] = {}
    for path in paths:
        try:
            read_info(path)
        except (InputError, StorageError) as error:
            unread[str(path)] = error.sentence
            if len(unread) == len(paths):
                raise
    return [path for path in paths if str(path) not in unread], unread


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


def _left_out(group: Sequence[Path], rows: Sequence[object]) -> bool:
    row = row_of(group, rows)  # type: ignore[arg-type]
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
    plan: ConformPlan,
    outcomes: Sequence[TakeOutcome],
    day: DayAlignment | None,
    plan_path: Path,
    lists: tuple[str, ...],
    wearers: dict[str, str],
    unread: dict[str, str],
) -> ConformResult:
    by_take = {outcome.take: outcome for outcome in outcomes}
    takes = tuple(_take(take, by_take.get(take.take)) for take in plan.takes)
    return ConformResult(
        mode=plan.mode.value,
        takes=takes,
        cards=_cards(day, takes) if day is not None else (),
        findings=(
            *(_unread(path, sentence) for path, sentence in unread.items()),
            *findings_of_conform(plan, outcomes, wearers),
        ),
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
        card_file=_longest(plan),
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


def _longest(plan: TrackPlan) -> str:
    """The card file that the figures speak of: where a take runs through several, the longest piece."""
    if not plan.pieces:
        return ""
    return max(plan.pieces, key=lambda piece: piece.stop_sample - piece.start_sample).file.path


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


__all__ = ["Mode", "conform"]
