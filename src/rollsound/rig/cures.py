"""The cheapest thing that takes a single point of failure away: a second cable, a second way, a spare."""

from __future__ import annotations

from dataclasses import dataclass

from rollsound.kit.model import NETWORK
from rollsound.rig.built import BuiltPiece, Rig
from rollsound.rig.fallout import Element


@dataclass(frozen=True)
class Cure:
    """What to add. ``removes`` is true where the failure then costs nothing, false where it only costs less time."""

    sentence: str
    removes: bool


def cure(rig: Rig, element: Element) -> Cure:
    """The cheapest cure for the failure of one thing."""
    kind, _, id = element.partition(":")
    if kind == "link":
        return _of_link(rig, id)
    if kind == "stream":
        row = rig.stream_rows[id]
        return Cure(f"Save the receiver's subscriptions, so that {row.name or row.id} is back with one touch.", False)
    if kind == "supply":
        return Cure("Feed what it feeds from a second battery as well, or keep a full one beside it.", False)
    if kind == "clock":
        return Cure(f"Give another piece the second place as master, to take over from {rig.name_of(id)}.", False)
    return _of_piece(rig, rig.pieces[id])


def _of_link(rig: Rig, id: str) -> Cure:
    row = rig.link_rows[id]
    begin, end = rig.link_ends[id]
    one, other = rig.pieces[begin.piece], rig.pieces[end.piece]
    medium = one.ports[begin.port].medium
    if medium in NETWORK and one.carries_network and other.carries_network:
        free = [_free_port(rig, piece, medium) for piece in (one, other)]
        if all(free):
            return Cure(
                f"Add a second network cable from {one.name}, {free[0]}, to {other.name}, {free[1]}, by another way.",
                True,
            )
    if medium == "radio":
        return Cure(f"Cover {one.name} with a boom or a second pack, and know its spare frequency.", False)
    return Cure(f"Lay a spare cable beside {row.name or row.id} before the day begins.", False)


def _free_port(rig: Rig, piece: BuiltPiece, medium: str) -> str:
    return next(
        (port.id for port in piece.ports.values() if port.medium == medium and (piece.id, port.id) not in rig.joined),
        "",
    )


def _of_piece(rig: Rig, piece: BuiltPiece) -> Cure:
    used = sum(1 for each in rig.pieces.values() if each.item.id == piece.item.id)
    what = piece.item.name
    if piece.item.count > used:
        left = piece.item.count - used
        return Cure(f"Keep one of the {left} spare '{what}' beside {piece.name}, set up as it is.", False)
    return Cure(f"Bring one more '{what}' as a spare, set up as {piece.name} is.", False)
