"""Proofs of what links and pieces can carry: cable lengths, channels, network load, tracks, microphone supply, room."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import islice

from rollsound.facts import table
from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.kit.model import NETWORK
from rollsound.quantities import count
from rollsound.rig.built import Rig, Spot, Way
from rollsound.rig.combining import Combination, combinations, how_many, in_words
from rollsound.rig.ends import read_end
from rollsound.rig.links import aes10_channels, file_bytes_s, limits, longest_m, microphone_loop_ohm, stream_bit_s
from rollsound.rig.reaching import Reaching, wanted_pairs
from rollsound.rig.state import State

_FULL = 0.75
"""Share of a network line above which little is left for clock and control."""
_BITS = 24
_MOST_COMBINATIONS = 512


def lengths(reaching: Reaching) -> Iterator[Finding]:
    """Cables longer than their medium goes, or than the trade dares."""
    rig = reaching.rig
    for link in rig.part.links:
        if link.length_m is None or link.id not in rig.link_ends:
            continue
        end, far = rig.link_ends[link.id]
        piece = rig.pieces[end.piece]
        port = piece.ports[end.port]
        if port.medium not in limits():
            continue
        limit, most = limits()[port.medium], longest_m(port.medium, piece.rate_hz)
        other = rig.name_of(far.piece)
        what = (
            f"The {port.medium} cable {link.name or link.id} from {piece.name} to {other} is {link.length_m:g} m long"
        )
        at = ("rig", "links", link.id)
        shorter = "Bring the two nearer, put a switch or converter between them, or go over to fibre or radio."
        if most is not None and link.length_m > max(most, limit.practice_m or 0.0):
            yield about_plan(
                Area.SIGNAL,
                Weight.STOP,
                link.name or link.id,
                "cable length",
                f"{what}; {port.medium} goes {max(most, limit.practice_m or 0.0):g} m at most.",
                why="Beyond its length a digital link drops out without warning.",
                remedy=shorter,
                at=at,
                source=limit.source,
                numbers={"length_m": link.length_m, "longest_m": most},
            )
        elif (wary := min(limit.practice_m or most or 0.0, most or 0.0)) and link.length_m > wary:
            yield about_plan(
                Area.SIGNAL,
                Weight.WATCH,
                link.name or link.id,
                "cable length",
                f"{what}; on a set {wary:g} m are trusted.",
                why="It may hold in the morning and not in the rain.",
                remedy=f"Prove it with a longer cable than you need, or: {shorter[:1].lower()}{shorter[1:]}",
                at=at,
                source=limit.source,
                numbers={"length_m": link.length_m, "trusted_m": wary},
            )


def lengths_hold(rig: Rig) -> str:
    """What holds where no cable is too long; nothing where no length is written that has a limit."""
    bounded = [
        each for each, (end, _) in rig.link_ends.items() if rig.pieces[end.piece].ports[end.port].medium in limits()
    ]
    written = sum(rig.link_rows[each].length_m is not None for each in bounded)
    if not written:
        return ""
    unknown = len(bounded) - written
    rest = f"; of {count(unknown, 'cable')} the length is not written" if unknown else ""
    return f"No cable whose length is written is longer than its medium goes{rest}."


def aes10_holds(rig: Rig) -> str:
    """What holds where no AES10 link carries too much; nothing where there is none."""
    there = any(rig.pieces[end.piece].ports[end.port].medium.startswith("aes10") for end, _ in rig.link_ends.values())
    return "Every AES10 link carries no more channels than its rate allows." if there else ""


def aes10(reaching: Reaching) -> Iterator[Finding]:
    """AES10 links that carry more channels than their rate allows."""
    rig = reaching.rig
    for link in rig.part.links:
        if link.id not in rig.link_ends:
            continue
        one, _ = rig.link_ends[link.id]
        piece = rig.pieces[one.piece]
        if not piece.ports[one.port].medium.startswith("aes10"):
            continue
        used = [rig.spots[edge.start].channel for edge in rig.edges if edge.way is Way.LINK and edge.id == link.id]
        carried = [each for each in used if _leads_on(rig, one.piece, one.port, each)]
        most = aes10_channels(piece.rate_hz)
        if carried and max(carried) > most:
            yield about_plan(
                Area.SIGNAL,
                Weight.STOP,
                link.name or link.id,
                "AES10 channels",
                f"{link.name or link.id} uses channel {max(carried)}; at {piece.rate_hz / 1e3:g} kHz AES10 has {most}.",
                remedy="Move those channels to a second link, or work at 48 kHz.",
                at=("rig", "links", link.id),
                source="AES10-2003 and 2008, abstracts",
                numbers={"channels": float(max(carried)), "channels_most": float(most)},
            )


def _leads_on(rig: Rig, piece: str, port: str, channel: int) -> bool:
    """Whether something is sent on a channel of an out-port."""
    place = rig.place_of.get(Spot(piece, port, channel, "out"))
    return place is not None and (bool(rig.entering[place]) or any(place in spots for spots in rig.sources.values()))


def network(reaching: Reaching) -> Iterator[Finding]:
    """Subscriptions that are cut off, too wide for one stream, or too many for a line."""
    rig = reaching.rig
    worst: dict[str, float] = defaultdict(float)
    cut: dict[str, str] = {}
    changeovers = rig.part.changeovers
    touching = [each.id for each in changeovers if _touches_network(rig, each.id)]
    there_are = how_many([each for each in changeovers if each.id in touching])
    for combination in islice(combinations(changeovers, only=touching), _MOST_COMBINATIONS):
        state = State(rig, combination)
        load: dict[str, float] = defaultdict(float)
        done: set[str] = set()
        for edge in rig.edges:
            if edge.way is not Way.STREAM or edge.id in done or not rig.edge_holds(edge, combination):
                continue
            done.add(edge.id)
            ways = state.network_ways(edge)
            if not ways:
                if edge.id not in cut and not _all_arrive(reaching, combination):  # else nobody needs it there
                    cut[edge.id] = in_words(combination, [each for each in changeovers if each.id in touching])
                continue
            for link in ways[0].links:
                load[link] += stream_load_bit_s(rig, edge.id)
        for id, bit_s in load.items():
            worst[id] = max(worst[id], bit_s)
    if rig.part.streams and there_are > _MOST_COMBINATIONS:
        yield about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            "the rig",
            "network",
            f"The network was looked at in {_MOST_COMBINATIONS:,} of the {there_are:,} combinations that touch it.",
            why="What was not looked at is not proven.",
            remedy="Take positions that change nothing on the network out of its changeovers, and prove again.",
            at=("rig", "changeovers"),
            numbers={"looked_at": float(_MOST_COMBINATIONS), "combinations": float(there_are)},
        )
    for id, words in cut.items():
        row = rig.stream_rows[id]
        when = f" with {words}" if words else ""
        yield about_plan(
            Area.SIGNAL,
            Weight.STOP,
            row.name or id,
            "network",
            f"The subscription {row.name or id} from {row.from_} to {row.to} has no way through the network{when}.",
            why="What it carries does not arrive.",
            remedy="Join the two by cables and switches, or name their cable in every position.",
            at=("rig", "streams", id),
        )
    rates = {link.id: link.rate_mbit_s * 1e6 for link in rig.net_links}
    for id, bit_s in worst.items():
        if bit_s > _FULL * rates[id]:
            stop = bit_s > rates[id]
            yield about_plan(
                Area.SIGNAL,
                Weight.STOP if stop else Weight.WATCH,
                id,
                "network",
                f"The network cable {id} carries {bit_s / 1e6:.1f} Mbit/s of the {rates[id] / 1e6:g} that it has.",
                why="A full line loses packets, and with them sound; clock and control need room as well.",
                remedy="Use a line of 1 Gbit/s, or fewer channels over it.",
                at=("rig", "links", id),
                source="AES67 arithmetic: payload and 78 bytes around it in every packet",
                numbers={"load_mbit_s": bit_s / 1e6, "line_mbit_s": rates[id] / 1e6},
            )


def _all_arrive(reaching: Reaching, combination: Combination) -> bool:
    return all(
        reaching.connected(source, target) and reaching.reach(source, target).at(combination)
        for source, target in wanted_pairs(reaching.rig)
    )


def _touches_network(rig: Rig, changeover: str) -> bool:
    named = {each for link in rig.net_links for each, _ in link.condition}
    named |= {each for edge in rig.edges if edge.way is Way.STREAM for each, _ in edge.condition}
    for piece in rig.pieces.values():
        if any(port.medium in NETWORK for port in piece.ports.values()):
            named |= {each for each, _ in piece.condition}
    return changeover in named


def stream_load_bit_s(rig: Rig, id: str) -> float:
    """What a subscription takes on the wire, in streams of as many channels as its sender puts into one."""
    row = rig.stream_rows[id]
    end = read_end(row.from_)
    piece = rig.pieces[end.piece]
    port = piece.ports[end.port]
    packet_s = float(row.packet_s if row.packet_s is not None else port.packet_s)
    left, total = rig.stream_channels[id], 0.0
    while left > 0:
        total += stream_bit_s(min(left, port.stream_channels), piece.rate_hz, packet_s)
        left -= port.stream_channels
    return total


def microphone_supply(reaching: Reaching) -> Iterator[Finding]:
    """Digital microphones that their cable leaves too little supply."""
    rig, facts = reaching.rig, table("rig_media")["microphone_supply"]
    for link in rig.part.links:
        if not link.length_m or link.id not in rig.link_ends:
            continue
        end, _ = rig.link_ends[link.id]
        piece = rig.pieces[end.piece]
        port = piece.ports[end.port]
        if port.needs_supply != "digital phantom":
            continue
        current_a = float(port.draw_ma or facts["most_ma"]) / 1e3
        loop = microphone_loop_ohm(link.length_m, facts["core_ohm_km"], facts["shield_ohm_km"])
        left_v = facts["worst_v"] - current_a * loop
        if left_v < facts["least_at_microphone_v"]:
            yield about_plan(
                Area.SIGNAL,
                Weight.STOP,
                piece.name,
                "microphone supply",
                f"{piece.name} gets {left_v:.1f} V at the end of {link.length_m:g} m; it needs "
                f"{facts['least_at_microphone_v']:g} V.",
                remedy="Use a shorter or thicker cable, or feed the microphone on its way.",
                at=("rig", "links", link.id),
                source=facts["source"],
                numbers={"left_v": left_v, "needed_v": facts["least_at_microphone_v"], "loop_ohm": loop},
            )


def room(reaching: Reaching) -> Iterator[Finding]:
    """Tracks and hours that recorders have."""
    rig = reaching.rig
    by_recorder: dict[str, int] = defaultdict(int)
    for spot in rig.tracks.values():
        by_recorder[rig.spots[spot].piece] += 1
    for id, used in by_recorder.items():
        piece = rig.pieces[id]
        a_second = file_bytes_s(used, piece.rate_hz, _BITS // 8)
        there = count(piece.kind.tracks or 0, "track")
        told = f"{piece.name}: {used} of {there} are used, {a_second * 3600 / 1e9:.1f} GB an hour at {_BITS} bits"
        numbers = {"tracks": float(used), "gb_an_hour": a_second * 3600 / 1e9}
        if rig.part.media_gb is not None:
            hours = rig.part.media_gb * 1e9 / (a_second * 3600)
            numbers["hours"] = hours
            told += f", room for {hours:.1f} h"
        yield about_plan(
            Area.MEDIA, Weight.FINE, piece.name, "tracks", f"{told}.", at=("rig", "pieces", id), numbers=numbers
        )
