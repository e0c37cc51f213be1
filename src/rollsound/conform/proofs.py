"""What conforming a day found, as findings: what was not possible and why, and what post should listen to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rollsound.conform.hints import plain
from rollsound.conform.model import Outcome
from rollsound.conform.outcome import TakeOutcome
from rollsound.conform.plan import Action, ConformPlan, TakePlan, TrackPlan
from rollsound.conform.swaps import crossed_tracks
from rollsound.finding import Area, Finding, Ref, Weight

SOURCE = "measured on these files"
_REMEDIES = {
    Outcome.OTHER_MIC: "Look for the card of this pack; this one heard the scene from another place.",
    Outcome.AMBIGUOUS: "Say which card it is in the sheet of wearers, and run again.",
    Outcome.CONTRADICTS: "Listen to the card at this take; the radio track was kept.",
    Outcome.NOT_COVERED: "Look for another file of this card.",
    Outcome.NOT_FOUND: "Check that this card was in this pack; the radio track was kept.",
}


def findings_of_conform(
    plan: ConformPlan, outcomes: Sequence[TakeOutcome], wearers: Mapping[str, str] | None = None
) -> list[Finding]:
    """What could not be done or not wholly, and where the sound says other than the wearers sheet.

    Parameters
    ----------
    wearers
        track name to card name, as the sheet has it
    """
    done = {(take.take, track.index): track for take in outcomes for track in take.tracks}
    crossed = crossed_tracks(plan, wearers)
    found = [*crossed.findings, *_sheet_disagrees(plan, wearers or {}, crossed.explained)]
    for take in plan.takes:
        for track in take.tracks:
            if track.action is Action.KEEP and track.outcome is not Outcome.NO_CARD and track.card_name:
                found.append(_refused(take, track))
            outcome = done.get((take.take, track.index))
            if outcome is not None and track.action is not Action.KEEP:
                found += [_limited(take, track, sentence) for sentence in outcome.not_possible]
    return found


def _refused(take: TakePlan, track: TrackPlan) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.WATCH,
        subject=f"{take.take}, {track.name}",
        kind=f"card {track.outcome.value}",
        what=f"Card {track.card_name} was not used for {track.name} ({track.outcome.value}).",
        why=track.reason,
        remedy=_REMEDIES.get(track.outcome, ""),
        source=SOURCE,
        numbers={} if track.coherence is None else {"coherence": track.coherence},
        refs=(_ref(take, track),),
    )


def _limited(take: TakePlan, track: TrackPlan, sentence: str) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.WATCH,
        subject=f"{take.take}, {track.name}",
        kind="not wholly from the card",
        what=sentence,
        source=SOURCE,
        refs=(_ref(take, track),),
    )


def _ref(take: TakePlan, track: TrackPlan) -> Ref:
    return Ref(path=take.members[0].file.path, track=track.index + 1, length_samples=take.frames)


def _sheet_disagrees(
    plan: ConformPlan, wearers: Mapping[str, str], explained: frozenset[tuple[str, int]]
) -> list[Finding]:
    """One finding a track, however many takes: the sheet was wrong for the day.

    ``explained`` are takes and track indexes whose other card was told already, as tracks or packs exchanged.
    """
    sheet_of = {plain(track): card for track, card in wearers.items()}
    heard: dict[tuple[str, str, str], list[str]] = {}
    for take in plan.takes:
        for track in take.tracks:
            sheet = sheet_of.get(plain(track.name), "")
            if (take.take, track.index) in explained or not (track.outcome.usable and sheet):
                continue
            if plain(sheet) != plain(track.card_name):
                heard.setdefault((track.name, sheet, track.card_name), []).append(take.take)
    return [
        Finding(
            area=Area.MEDIA,
            weight=Weight.WATCH,
            subject=name,
            kind="sheet disagrees",
            what=f"The wearers sheet gives {name} the card {sheet}; the sound says {card} in {_takes(takes)}.",
            why="The sound was followed.",
            remedy="Correct the sheet, and tell post if it went out already.",
            source=SOURCE,
            numbers={"takes": float(len(takes))},
        )
        for (name, sheet, card), takes in heard.items()
    ]


def _takes(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{len(names)} takes"
