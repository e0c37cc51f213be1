"""Whether every analogue microphone that needs phantom supply gets it, in every combination."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.rig.built import Edge, Spot, Way
from rollsound.rig.combining import in_words
from rollsound.rig.microphones import fed, phantoms
from rollsound.rig.reaching import Reaching

_SOURCE = "IEC 61938, as quoted by a secondary page"


def phantom(reaching: Reaching) -> Iterator[Finding]:
    """Microphones that need phantom supply and are plugged where there is none, or draw more than it gives."""
    rig = reaching.rig
    for spot, place in rig.place_of.items():
        port = rig.port_at(spot)
        if spot.side == "out" and spot.channel == 1 and port is not None and port.needs_supply in phantoms():
            found = _fault(reaching, spot, place)
            if found is not None:
                yield found


def _fault(reaching: Reaching, spot: Spot, place: int) -> Finding | None:
    """The first combination in which a microphone is plugged in and not supplied."""
    rig = reaching.rig
    port = rig.pieces[spot.piece].ports[spot.port]
    wanted = str(port.needs_supply)
    cone = _wired(reaching, place, lambda _: True)
    changeovers = reaching.touching(cone)
    for chosen in reaching.parts(changeovers):
        state = reaching.state(changeovers, chosen)
        if not state.alive(place):
            continue
        inputs = [rig.spots[each] for each in _wired(reaching, place, state.holds) if _is_input(reaching, each)]
        giving = [each for each in inputs if (one := rig.port_at(each)) is not None and one.supplies == wanted]
        own = [each for each in rig.part.changeovers if each.id in changeovers]
        told = in_words(dict(zip(changeovers, chosen, strict=True)), own)
        where = f" with {told}" if told else ""
        name = rig.name_of(spot.piece)
        if inputs and not giving:
            return about_plan(
                Area.SIGNAL,
                Weight.STOP,
                name,
                "microphone supply",
                f"{name} needs {wanted.upper()}, and {rig.spot_in_words(inputs[0])} gives none{where}.",
                why="Without its supply it gives nothing.",
                remedy="Plug it into an input that supplies it, or put a supply of its own on its way.",
                at=("rig", "pieces", spot.piece),
                source=_SOURCE,
            )
        if giving and port.draw_ma is not None and not (left := fed(wanted, float(port.draw_ma))).within:
            return about_plan(
                Area.SIGNAL,
                Weight.WATCH,
                name,
                "microphone supply",
                f"{name} draws {float(port.draw_ma):g} mA of {wanted.upper()}, which gives "
                f"{phantoms()[wanted].most_ma:g} mA at most; {left.voltage_v:.0f} V are left{where}.",
                why="Beyond that current an input need not hold its voltage: it clips early or falls silent.",
                remedy="Give it a supply of its own.",
                at=("rig", "pieces", spot.piece),
                source=_SOURCE,
                numbers={"left_v": left.voltage_v, "draw_ma": float(port.draw_ma)},
            )
    return None


def _wired(reaching: Reaching, place: int, holds: Callable[[int], bool]) -> set[int]:
    """All that one contact leads to by wire: through cables, and pieces that only pass on."""
    rig = reaching.rig
    seen, waiting = {place}, [place]
    while waiting:
        for number in rig.leaving[waiting.pop()]:
            edge = rig.edges[number]
            if edge.end not in seen and _by_wire(reaching, edge) and holds(number):
                seen.add(edge.end)
                waiting.append(edge.end)
    return seen


def _by_wire(reaching: Reaching, edge: Edge) -> bool:
    port = reaching.rig.port_at(reaching.rig.spots[edge.end])
    if port is None or port.medium != "analogue":
        return False
    return edge.way is Way.LINK or (edge.way is Way.PASS and _passive(reaching, edge))


def _passive(reaching: Reaching, edge: Edge) -> bool:
    """Whether a way inside a piece is plain wire: a patch panel, with no supply, gain or noise of its own."""
    piece = reaching.rig.pieces[reaching.rig.spots[edge.start].piece]
    return piece.kind.category == "patch"


def _is_input(reaching: Reaching, place: int) -> bool:
    spot = reaching.rig.spots[place]
    return spot.side == "in" and reaching.rig.pieces[spot.piece].kind.category != "patch"
