"""The wiring of a plan as a drawing: the whole rig in one combination, one source's path lit, or one failure."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.rig import built
from rollsound.actions.rig_model import RigResult
from rollsound.errors import InputError, storage
from rollsound.quantities import signed
from rollsound.report.wiring import Box, Mark, Wire, wiring_svg
from rollsound.rig.built import Rig
from rollsound.rig.combining import Combination, holds, in_words
from rollsound.rig.ends import TRACK
from rollsound.rig.fallout import Fallout, Loss, element_in_words
from rollsound.rig.paths import Path as Way
from rollsound.rig.paths import all_paths
from rollsound.rig.reaching import Reaching
from rollsound.rig.state import State
from rollsound.whole import write_whole

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead


def write_drawing(read: PlanRead, result: RigResult, path: Path, *, source: str = "", failed: str = "") -> RigResult:
    """Draw the rig into an SVG file.

    Raises
    ------
    InputError
        when the file's name does not end in .svg
    StorageError
        when it cannot be written
    """
    if path.suffix.lower() != ".svg":
        raise InputError(f"{path.name} is no .svg file; the drawing is an SVG, which any browser prints")
    text = drawing(built(read), result.name, result.combination, source=source, failed=failed)
    with storage(path):
        write_whole(path, text.encode())
    return result.model_copy(update={"drawing_file": str(path)})


def drawing(
    rig: Rig,
    title: str,
    combination: Combination,
    *,
    source: str = "",
    failed: str = "",
    ways: Iterable[Way] | None = None,
    loss: Loss | None = None,
) -> str:
    """The drawing of a rig as SVG.

    Parameters
    ----------
    source
        id of a source whose path is lit, with delay and gain at each piece
    failed
        ``piece:``, ``link:`` or ``stream:`` and an id: struck out, with what is lost
    ways, loss
        the paths of ``source`` and the loss of ``failed``, where they are known already
    """
    lit: dict[str, str] = {}
    lit_links: set[str] = set()
    told = in_words(combination, rig.part.changeovers)
    if source:
        lit, lit_links = _lit(_ways(rig, combination, source) if ways is None else ways)
        told = f"{told}; the path of {rig.source_rows[source].name or source}" if told else "one path"
    lost: set[str] = set()
    if failed:
        loss = loss or Fallout(Reaching(rig)).of(failed)
        lost = {f"track:{each}" for each in loss.tracks} | {f"feed:{each}" for each in loss.listeners}
        gone = ", ".join(rig.track_rows[each].name for each in loss.tracks) or "nothing"
        told = f"{element_in_words(rig, failed)} fails: {gone} lost"
    boxes, wires = _boxes(rig, combination, lit, failed, lost), _wires(rig, combination, lit_links, failed)
    return wiring_svg(title, told, boxes, wires)


def _ways(rig: Rig, combination: Combination, source: str) -> list[Way]:
    return [way for (id, _), found in all_paths(State(rig, combination)).items() if id == source for way in found.paths]


def _lit(ways: Iterable[Way]) -> tuple[dict[str, str], set[str]]:
    """Pieces on the paths, each with its delay and gain so far, and the links."""
    pieces: dict[str, str] = {}
    links: set[str] = set()
    for way in ways:
        gain_db = 0.0
        pieces.setdefault(way.start.piece, "")
        for hop in way.hops:
            gain_db += hop.gain_db
            converts = f", {', '.join(each.value for each in hop.conversions)}" if hop.conversions else ""
            pieces[hop.end.piece] = f"{hop.total_s * 1e3:.2f} ms, {signed(gain_db, 1)} dB{converts}"
            links.add(hop.id)
            if hop.network is not None:
                links.update(hop.network.links)
                for each in hop.network.through:
                    pieces.setdefault(each, "")
    return pieces, links


def _boxes(rig: Rig, combination: Combination, lit: dict[str, str], failed: str, lost: Collection[str]) -> list[Box]:
    used = _ports_in_use(rig, combination)
    found = []
    for piece in rig.pieces.values():
        if not rig.in_use(piece.id, combination) or (piece.id not in used and piece.id not in lit):
            continue
        tracks = [
            row for row in rig.part.tracks if row.id in rig.tracks and rig.spots[rig.tracks[row.id]].piece == piece.id
        ]
        gone = [row.name for row in tracks if f"track:{row.id}" in lost]
        mark: Mark = "lit" if piece.id in lit else ""
        if failed == f"piece:{piece.id}":
            mark = "failed"
        elif gone:
            mark = "lost"
        place = _place(rig, piece.id, combination)
        heard = [row.listener for row in rig.part.feeds if row.id in rig.feeds and _heard_at(rig, row.id) == piece.id]
        under = ", ".join(each for each in (place, piece.piece.wearer, *heard) if each)
        says = lit.get(piece.id, "") or (f"lost: {', '.join(gone)}" if gone else "")
        if not says and tracks:
            says = f"{len(tracks)} tracks"
        ins = tuple(
            (port, piece.ports[port].name or port) for port in piece.ports if ("in", port) in used.get(piece.id, {})
        )
        outs = tuple(
            (port, piece.ports[port].name or port) for port in piece.ports if ("out", port) in used.get(piece.id, {})
        )
        found.append(Box(piece.id, piece.name, under, ins, outs, mark, says))
    return found


def _heard_at(rig: Rig, feed: str) -> str:
    return rig.spots[rig.feeds[feed][0]].piece


def _place(rig: Rig, piece: str, combination: Combination) -> str:
    for changeover in rig.part.changeovers:
        for position in changeover.positions:
            if combination.get(changeover.id) == position.id and piece in position.places:
                return position.places[piece]
    return rig.pieces[piece].piece.place


def _ports_in_use(rig: Rig, combination: Combination) -> dict[str, dict[tuple[str, str], None]]:
    used: dict[str, dict[tuple[str, str], None]] = {}
    for link in rig.part.links:
        if link.id not in rig.link_ends or not holds(rig.conditions.get(link.id, ()), combination):
            continue
        ends = rig.link_ends[link.id]
        if all(rig.in_use(end.piece, combination) for end in ends):
            used.setdefault(ends[0].piece, {})[("out", ends[0].port)] = None
            used.setdefault(ends[1].piece, {})[("in", ends[1].port)] = None
    for spots in rig.sources.values():
        for spot in spots[:1]:
            at = rig.spots[spot]
            if at.side == "in" and at.port != TRACK:
                used.setdefault(at.piece, {})[("in", at.port)] = None
    return used


def _wires(rig: Rig, combination: Combination, lit: Collection[str], failed: str) -> list[Wire]:
    found = []
    for link in rig.part.links:
        if link.id not in rig.link_ends or not holds(rig.conditions.get(link.id, ()), combination):
            continue
        one, other = rig.link_ends[link.id]
        medium = rig.pieces[one.piece].ports[one.port].medium
        label = f"{link.length_m:g} m" if link.length_m is not None else ""
        mark: Mark = "failed" if failed == f"link:{link.id}" else "lit" if link.id in lit else ""
        found.append(Wire(link.id, one.piece, one.port, other.piece, other.port, medium, label, mark))
    return found
