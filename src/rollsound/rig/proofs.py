"""Proofs of the rig: does everything wanted arrive in every combination, what do changeovers and failures cost."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.quantities import count, signed
from rollsound.rig import capacity
from rollsound.rig.built import Rig
from rollsound.rig.changeovers import Change, changes, sentence
from rollsound.rig.clock_proofs import clocking, rates_able
from rollsound.rig.clocks import digital_links
from rollsound.rig.combining import in_words
from rollsound.rig.cures import cure
from rollsound.rig.fallout import Fallout, element_in_words
from rollsound.rig.feed_proofs import hearing_in_time, hearing_right, hearing_safely
from rollsound.rig.level_proofs import clipping, combing, drowning, proven_levels, settable, untold
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.naming import place_of
from rollsound.rig.naming import target_in_words as target_in_words
from rollsound.rig.phantom_proofs import phantom
from rollsound.rig.reaching import Reach, Reaching, wanted_pairs

PRACTICE = "common practice, no source"
_SAME_DB = 0.5


def proofs(rig: Rig, supplies: Mapping[str, Collection[str]] | None = None) -> list[Finding]:
    """Every proof of wiring, changeovers and fallout over a rig put together, each with at least one finding."""
    if not rig.pieces:
        return []
    reaching = Reaching(rig)
    levels = Levels(reaching)
    found = [_wrong(each.place, each.sentence, each.at) for each in rig.wrong]
    checks: Sequence[tuple[str, str, Iterable[Finding]]] = (
        ("everything arrives", _all_arrive(reaching), arriving(reaching)),
        ("changeover", _all_kept(reaching), changing(reaching)),
        (
            "single failure",
            "No single failure takes more than one character from the tracks.",
            failing(reaching, supplies),
        ),
        ("cable length", capacity.lengths_hold(rig), capacity.lengths(reaching)),
        ("AES10 channels", capacity.aes10_holds(rig), capacity.aes10(reaching)),
        ("network", _network_holds(rig), capacity.network(reaching)),
        ("microphone supply", _supply_holds(rig), [*capacity.microphone_supply(reaching), *phantom(reaching)]),
        ("clock", _clocks_hold(reaching), [*clocking(reaching), *rates_able(reaching)]),
        ("tracks", "", capacity.room(reaching)),
        ("clipping", _nothing_clips(levels), clipping(reaching, levels)),
        ("gain", "Every gain can be set as it is written." if rig.gains_db else "", settable(reaching)),
        ("level and noise", _nothing_drowns(levels), drowning(reaching, levels)),
        ("level unknown", "", untold(reaching, levels)),
        ("double arrival", _nothing_combs(rig), combing(reaching, levels)),
        ("what listeners hear", _nothing_unwanted(rig), hearing_right(reaching, levels)),
        ("listening delay", _all_in_time(rig), hearing_in_time(reaching, levels)),
        ("hearing", _ears_safe(rig), hearing_safely(reaching, levels)),
        ("unused kit", "Every piece of the rig leads somewhere.", idle(reaching)),
    )
    for kind, holds, findings in checks:
        told = list(findings)
        heavy = any(each.weight is not Weight.FINE for each in told)
        area = Area.SYNC if kind == "clock" else Area.SIGNAL
        found += told if heavy or not holds else [*told, about_plan(area, Weight.FINE, "the rig", kind, holds)]
    return found


def _all_arrive(reaching: Reaching) -> str:
    return (
        f"Every source reaches its tracks and listeners in {_every(reaching.combinations)}."
        if wanted_pairs(reaching.rig)
        else ""
    )


def _all_kept(reaching: Reaching) -> str:
    changeovers = reaching.rig.part.changeovers
    return f"{count(len(changeovers), 'changeover')} cost no track." if changeovers else ""


def _network_holds(rig: Rig) -> str:
    return "Every subscription has its way, and no network line is full." if rig.part.streams else ""


def _supply_holds(rig: Rig) -> str:
    asked = any(port.needs_supply for each in rig.pieces.values() for port in each.ports.values())
    return "Every microphone that needs a supply gets it, as far as the lengths of cables are written." if asked else ""


def _clocks_hold(reaching: Reaching) -> str:
    if not digital_links(reaching.rig, reaching.first):
        return ""
    return "One master on every clock, every digital hop locked or resampled, rates and word lengths alike."


def _every(combinations: int) -> str:
    return "the one combination" if combinations == 1 else f"all {combinations:,} combinations"


def _nothing_clips(levels: Levels) -> str:
    return "No source whose level is known clips anywhere, at its loudest." if proven_levels(levels) else ""


def _nothing_drowns(levels: Levels) -> str:
    if not proven_levels(levels) or not levels.rig.tracks:
        return ""
    return "Every source whose level is known comes to its track over alignment level, and well over the noise."


def _nothing_combs(rig: Rig) -> str:
    return "No sound arrives twice at one place as a comb." if wanted_pairs(rig) else ""


def _nothing_unwanted(rig: Rig) -> str:
    return "No listener hears what they must not, or their own voice unasked." if rig.feeds else ""


def _all_in_time(rig: Rig) -> str:
    return "Everything that listeners are to hear reaches them in time." if rig.feeds else ""


def _ears_safe(rig: Rig) -> str:
    timed = any(row.hours for id, row in rig.feed_rows.items() if id in rig.feeds)
    return "No listener's day comes to an action value for hearing, as far as it is written." if timed else ""


def _wrong(place: str, sentence_: str, at: Sequence[str]) -> Finding:
    return about_plan(
        Area.SIGNAL,
        Weight.STOP,
        place,
        "rig mistake",
        f"{place[:1].upper()}{place[1:]}: {sentence_}.",
        why="What is wrong is left out of every proof.",
        remedy="Correct it in the plan.",
        at=at,
    )


def arriving(reaching: Reaching) -> Iterator[Finding]:
    """Sources that do not arrive where they are to, in some combination or in all."""
    rig = reaching.rig
    unseen: list[tuple[str, Reach]] = []
    for source, target in dict.fromkeys(wanted_pairs(rig)):
        reach = reaching.reach(source, target) if reaching.connected(source, target) else None
        if reach is not None and len(reach.arrives) == reach.looked_at:
            unseen += [] if reach.covered else [(target, reach)]
            continue
        yield _missing(reaching, source, target, reach)
    yield from _nowhere(rig)
    if unseen:
        target, worst = max(unseen, key=lambda each: each[1].there_are)
        name = rig.source_rows[worst.source].name or worst.source
        yield about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            name,
            "everything arrives",
            f"{name} on its way to {target_in_words(rig, target)} was looked at in {worst.looked_at:,} of "
            f"{worst.there_are:,} combinations, and arrives in those"
            + (f"; so with {count(len(unseen) - 1, 'further way')}." if len(unseen) > 1 else "."),
            why=f"{len(worst.changeovers)} changeovers lie on one way; what was not looked at is not proven.",
            remedy="Take positions that change nothing on this way out of its changeovers, and prove again.",
            at=place_of(target),
            numbers={"looked_at": float(worst.looked_at), "combinations": float(worst.there_are)},
        )


def _nowhere(rig: Rig) -> Iterator[Finding]:
    """Sources that no track is to have, and that are not written as optional."""
    wanted = {source for track in rig.tracks for source in rig.wanted(track)}
    for id, row in rig.source_rows.items():
        if rig.tracks and id in rig.sources and id not in wanted and not row.optional:
            yield about_plan(
                Area.SIGNAL,
                Weight.WATCH,
                row.name or id,
                "everything arrives",
                f"No track is to have {row.name or id}.",
                why="It would not be recorded, and nothing proves that it could be.",
                remedy="Name it as the source of a track, or write 'optional: true' at it.",
                at=("rig", "sources", id),
            )


def _missing(reaching: Reaching, source: str, target: str, reach: Reach | None) -> Finding:
    rig = reaching.rig
    name = rig.source_rows[source].name or source
    where, at = target_in_words(rig, target), place_of(target)
    heard = target.startswith("feed:")
    if reach is None or not reach.arrives:
        return about_plan(
            Area.SIGNAL,
            Weight.STOP,
            name,
            "everything arrives",
            f"{name} never reaches {where}.",
            why="A listener would not hear it." if heard else "It would not be recorded.",
            remedy=f"Join {rig.name_of(_piece_of(rig, source))} to {where} by links, streams and routes.",
            at=at,
        )
    failing_in = next(each for each in reaching.parts(reach.changeovers) if each not in reach.arrives)
    chosen = dict(zip(reach.changeovers, failing_in, strict=True))
    told = in_words(chosen, [each for each in rig.part.changeovers if each.id in chosen])
    fails = reach.looked_at - len(reach.arrives)
    share = f"{fails:,} of {reach.looked_at:,}" + (
        "" if reach.covered else f" that were looked at ({reach.there_are:,})"
    )
    return about_plan(
        Area.SIGNAL,
        Weight.STOP,
        name,
        "everything arrives",
        f"{name} does not reach {where} with {told}.",
        why=f"It fails in {share} combinations of the changeovers that it depends on.",
        remedy="Name in that position the link, stream or route that is to carry it.",
        at=("rig", "changeovers", reach.changeovers[0]),
        numbers={"combinations_failing": float(fails)},
    )


def changing(reaching: Reaching) -> Iterator[Finding]:
    """What every changeover does: a stop where it loses a track, a watch where gain or hands are at odds."""
    for change in changes(reaching):
        yield _changed(reaching.rig, change)


def _changed(rig: Rig, change: Change) -> Finding:
    told = sentence(rig, change)
    at = ("rig", "changeovers", change.changeover)
    changeover = next(each for each in rig.part.changeovers if each.id == change.changeover)
    subject = changeover.name or changeover.id
    numbers = {
        "repatches": float(change.repatches),
        "unplugs": float(len(change.unplug)),
        "plugs": float(len(change.plug)),
        "tracks_kept": float(len(change.kept)),
        "combinations": float(change.combinations),
    }
    if change.lost:
        lost = change.lost[0]
        names = {position.id: position.name or position.id for position in changeover.positions}
        source = rig.source_rows[lost.source].name or lost.source
        more = f"; {count(len(change.lost) - 1, 'further loss')}" if len(change.lost) > 1 else ""
        went = f" and arrives on {target_in_words(rig, lost.moved_to)} instead" if lost.moved_to else ""
        return about_plan(
            Area.SIGNAL,
            Weight.STOP,
            subject,
            "changeover",
            f"{told}. {source} is lost from {target_in_words(rig, lost.target)} in position "
            f"{names[lost.fails_in]}{went}{more}.",
            why="A change in the middle of a scene must cost no track.",
            remedy="Route the other input to the same track as well, so that either carries it.",
            at=at,
            numbers=numbers,
        )
    uneven = [each for each in change.differences if abs(each.gain_db) > _SAME_DB]
    if uneven:
        worst = max(uneven, key=lambda each: abs(each.gain_db))
        source = rig.source_rows[worst.source].name or worst.source
        return about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            subject,
            "changeover",
            f"{told}. {source} comes {signed(worst.gain_db)} dB on {target_in_words(rig, worst.target)}.",
            why="The same voice must not jump in level when the way changes.",
            remedy="Move the gain with the change: set it in the position's gains.",
            at=at,
            source=PRACTICE,
            numbers={**numbers, "gain_step_db": worst.gain_db},
        )
    if not change.covered:
        return about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            subject,
            "changeover",
            f"{told}. No loss was found, in the part of the combinations of the rest that was looked at.",
            why="What was not looked at is not proven.",
            remedy="Take positions that change nothing on the same way out of the other changeovers, and prove again.",
            at=at,
            numbers=numbers,
        )
    proven = f", proven in {_every(change.combinations)} of the rest" if change.combinations > 1 else ""
    kept = f"{count(len(change.kept), 'track')} kept{proven}"
    return about_plan(Area.SIGNAL, Weight.FINE, subject, "changeover", f"{told}. {kept}.", at=at, numbers=numbers)


def failing(reaching: Reaching, supplies: Mapping[str, Collection[str]] | None) -> Iterator[Finding]:
    """Single points of failure that take more than one character from every track, told as one."""
    rig = reaching.rig
    fallout = Fallout(reaching, supplies)
    dear = [loss for loss in fallout.single() if len(loss.uncovered) > 1]
    if not fallout.complete:
        yield about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            "the rig",
            "single failure",
            "Failures were looked at in a part of the combinations only, since more changeovers lie on one way than "
            "can be gone through.",
            why="What was not looked at is not proven.",
            remedy="Take positions that change nothing on the same way out of its changeovers, and prove again.",
            at=("rig", "changeovers"),
        )
    if not dear:
        return
    worst = dear[0]
    what = element_in_words(rig, worst.failed[0])
    kind, _, id = worst.failed[0].partition(":")
    part = {"piece": "pieces", "link": "links", "stream": "streams"}.get(kind)
    others = f"; {count(len(dear) - 1, 'further single failure')} would take several" if len(dear) > 1 else ""
    removing = next((loss.failed[0] for loss in dear if cure(rig, loss.failed[0]).removes), None)
    also = ""
    if removing is not None and removing != worst.failed[0]:
        also = f" Against {element_in_words(rig, removing)}: {cure(rig, removing).sentence}"
    yield about_plan(
        Area.SIGNAL,
        Weight.WATCH,
        what,
        "single failure",
        f"If {what} fails, {count(len(worst.uncovered), 'character')} are on no track{others}.",
        why="One failure should cost one character at most; recordings on the packs' own cards may still cover them.",
        remedy=f"{cure(rig, worst.failed[0]).sentence}{also} 'rollsound fallout' tells each with its cure.",
        at=("rig", part, id) if part else (),
        source=PRACTICE,
        numbers={
            "characters": float(len(worst.uncovered)),
            "tracks": float(len(worst.tracks)),
            "failures": float(len(dear)),
        },
    )


def idle(reaching: Reaching) -> Iterator[Finding]:
    """Pieces that nothing is joined to: on the list and not in the rig."""
    rig = reaching.rig
    joined = {piece for piece, _ in rig.joined}
    for piece in rig.pieces.values():
        if piece.id not in joined and piece.ports:
            yield about_plan(
                Area.SIGNAL,
                Weight.WATCH,
                piece.name,
                "unused kit",
                f"{piece.name} is joined to nothing.",
                why="What is in the rig and not wired carries nothing.",
                remedy="Write the links that join it, or take it out of the rig.",
                at=("rig", "pieces", piece.id),
            )


def _piece_of(rig: Rig, source: str) -> str:
    return rig.spots[rig.sources[source][0]].piece
