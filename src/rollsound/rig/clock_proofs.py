"""Proofs of clocks and formats: one master, every digital hop locked or resampled, rates alike, no bits lost unseen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.rig.built import BuiltPiece, Rig, Way
from rollsound.rig.clocks import Following, clocks, digital_links, has_clock, network_masters
from rollsound.rig.combining import Combination, combinations, how_many, in_words
from rollsound.rig.links import seconds_per_slip
from rollsound.rig.reaching import Reaching

MOST_COMBINATIONS = 4096
_USUAL_PPM = 10.0
"""Of a professional clock whose error is not written (Digital Interface Handbook, ch. 6)."""
SLIPS = "Digital Interface Handbook, ch. 6: clocks may differ by 10 ppm each; slips click"


def clocking(reaching: Reaching) -> Iterator[Finding]:
    """Everything that is wrong with clocks in some combination, each thing told once with the first."""
    rig = reaching.rig
    changeovers = [each for each in rig.part.changeovers if _matters(rig, each.id)]
    told: set[tuple[str, ...]] = set()
    for number, combination in enumerate(combinations(rig.part.changeovers, only=[each.id for each in changeovers])):
        if number >= MOST_COMBINATIONS:
            yield _not_covered(how_many(changeovers))
            return
        for key, finding in _in(rig, combination, in_words(combination, changeovers)):
            if key not in told:
                told.add(key)
                yield finding


def _matters(rig: Rig, changeover: str) -> bool:
    """Whether a changeover can change whose clock anything runs on."""
    row = next(each for each in rig.part.changeovers if each.id == changeover)
    if any(position.clocks or position.pieces for position in row.positions):
        return True
    return any(
        each == changeover for joined in rig.joined.values() for _, _, condition in joined for each, _ in condition
    ) or any(each == changeover for edge in rig.edges if edge.way is Way.STREAM for each, _ in edge.condition)


def _not_covered(there_are: int) -> Finding:
    return about_plan(
        Area.SYNC,
        Weight.WATCH,
        "the rig",
        "clock",
        f"Clocks were looked at in {MOST_COMBINATIONS:,} of {there_are:,} combinations.",
        remedy="Fix changeovers that do not matter in one position and prove again.",
    )


def _in(rig: Rig, combination: Combination, words: str) -> Iterator[tuple[tuple[str, ...], Finding]]:
    following = clocks(rig, combination)
    yield from _masters(rig, combination, words)
    for each in following.values():
        yield from _follows(rig, each, words)
    for way, id, sender, out_port, receiver, in_port in digital_links(rig, combination):
        yield from _hop(rig, following, (way, id), (sender, out_port), (receiver, in_port), words)


def _with(words: str) -> str:
    return f" with {words}" if words else ""


def _masters(rig: Rig, combination: Combination, words: str) -> Iterator[tuple[tuple[str, ...], Finding]]:
    for id, piece in rig.pieces.items():
        if not has_clock(piece) or piece.carries_network or not rig.in_use(id, combination):
            continue
        masters = network_masters(rig, id, combination)
        used = [
            each for each in masters if any(e.way is Way.STREAM and _at(rig, e.start, e.end, each) for e in rig.edges)
        ]
        if len(used) > 1:
            names = " and ".join(rig.name_of(each) for each in used)
            yield (
                ("masters", *used),
                about_plan(
                    Area.SYNC,
                    Weight.STOP,
                    names,
                    "two masters",
                    f"{names} each run on their own clock on one network{_with(words)}.",
                    why="Two masters drift apart: every stream between them clicks.",
                    remedy=f"Let {rig.name_of(used[0])} be the master, and write 'clock: net' at the other.",
                    at=("rig", "pieces", used[-1], "clock"),
                    source="IEEE 1588-2008: one grandmaster in a domain",
                ),
            )


def _at(rig: Rig, start: int, end: int, piece: str) -> bool:
    return piece in (rig.spots[start].piece, rig.spots[end].piece)


def _follows(rig: Rig, each: Following, words: str) -> Iterator[tuple[tuple[str, ...], Finding]]:
    if each.master or not each.port:
        return
    piece = rig.pieces[each.piece]
    circle = len(set(each.chain)) < len(each.chain)
    if not circle and not piece.piece.clock:
        return  # it would follow if something were there: nothing is joined to it, so nothing is to be locked
    what = (
        f"{piece.name} follows a clock that comes back to itself by way of "
        f"{', '.join(rig.name_of(one) for one in each.chain[1:-1]) or 'nothing else'}{_with(words)}."
        if circle
        else f"{piece.name} is to follow the clock at {each.port}, where none arrives{_with(words)}."
    )
    yield (
        ("follows", each.piece),
        about_plan(
            Area.SYNC,
            Weight.STOP,
            piece.name,
            "clock",
            what,
            why="Without a master it runs free, and what it sends or takes clicks.",
            remedy="Join that port to the master's clock, or choose another clock for it.",
            at=("rig", "pieces", each.piece, "clock"),
        ),
    )


def _ppm(piece: BuiltPiece) -> float:
    return float(piece.kind.clock_ppm if piece.kind.clock_ppm is not None else _USUAL_PPM)


def _hop(
    rig: Rig,
    following: Mapping[str, Following],
    link: tuple[Way, str],
    sending: tuple[str, str],
    receiving: tuple[str, str],
    words: str,
) -> Iterator[tuple[tuple[str, ...], Finding]]:
    way, id = link
    sender, receiver = rig.pieces[sending[0]], rig.pieces[receiving[0]]
    out_port, in_port = sender.ports[sending[1]], receiver.ports[receiving[1]]
    if sender.kind.core == "none" or receiver.kind.core == "none":
        return
    at = ("rig", "streams" if way is Way.STREAM else "links", id)
    rates = (sender.rate_hz, receiver.rate_hz)
    if rates[0] != rates[1] and not in_port.resamples:
        yield (
            ("rate", id),
            about_plan(
                Area.SYNC,
                Weight.STOP,
                sender.name,
                "sample rate",
                f"{sender.name} sends {rates[0] / 1e3:g} kHz to {receiver.name}, which runs at {rates[1] / 1e3:g} kHz.",
                why="The input does not convert rates: it stays silent or plays at a wrong speed.",
                remedy="Set both to one rate, or put a converter between them.",
                at=at,
            ),
        )
    one, other = following.get(sender.id), following.get(receiver.id)
    masters = (one.master if one else "", other.master if other else "")
    if masters[0] != masters[1] and all(masters) and not in_port.resamples:
        apart = _ppm(rig.pieces[masters[0]]) + _ppm(rig.pieces[masters[1]])
        every_s = seconds_per_slip(apart, rates[1])
        steered = out_port.microphone_mode == "mode 1" and in_port.microphone_mode == "mode 2"
        remedy = (
            f"Use mode 2 at both, or an input of {receiver.name} that resamples."
            if steered
            else f"Let both follow one clock, or use an input of {receiver.name} that resamples."
        )
        yield (
            ("slip", id),
            about_plan(
                Area.SYNC,
                Weight.STOP,
                f"{sender.name} to {receiver.name}",
                "not locked",
                f"{sender.name} and {receiver.name} run on two clocks over {id}: one sample slips every "
                f"{every_s:.1f} s{_with(words)}.",
                why="A slipped sample is a click in the recording.",
                remedy=remedy,
                at=at,
                source=SLIPS,
                numbers={"apart_ppm": apart, "seconds_per_slip": every_s},
            ),
        )
    if out_port.bits and in_port.bits and out_port.bits > in_port.bits:
        yield (
            ("bits", id),
            about_plan(
                Area.SYNC,
                Weight.WATCH,
                sender.name,
                "word length",
                f"{sender.name} sends {out_port.bits} bits, {receiver.name} takes {in_port.bits}.",
                remedy="Set the sender to dither to the shorter word, or use another input.",
                at=at,
            ),
        )
