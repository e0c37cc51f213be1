"""Names in the radio part that point at nothing: kinds, antennas, cables, materials, stands, sites, transmitters."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from rollsound.radio import antennas, cables, kinds, materials
from rollsound.radio.model import Ground, RadioPart
from rollsound.wrong import Wrong, not_there


def names_wrong(radio: RadioPart, site_ids: Collection[str] | None = None) -> tuple[Wrong, ...]:
    """Every name that is not there, besides those that the question for carriers tells of itself.

    Parameters
    ----------
    site_ids
        ids of the plan's sites; names of sites are not looked at when None
    """
    found = [*_transmitters(radio), *_receivers(radio), *_control(radio)]
    for ground in radio.grounds:
        found += _ground(radio, ground)
    if site_ids is not None:
        found += _sites(radio, site_ids)
    return tuple(dict.fromkeys(found))


def _missing(names: Iterable[str], what: str, known: Collection[str], *at: str) -> Iterator[Wrong]:
    for name in dict.fromkeys(names):
        if name and name not in known:
            yield Wrong(("radio", *at), not_there(name, what, known))


def _transmitters(radio: RadioPart) -> Iterator[Wrong]:
    worn = kinds.worn_places(radio)
    for each in radio.transmitters:
        at = ("transmitters", each.id)
        yield from _missing([each.worn], "the place of wearing", worn, *at, "worn")
        if each.stand:
            grounds = [ground for ground in radio.grounds if not each.sites or ground.id in each.sites]
            stands = {stand.id for ground in grounds for stand in ground.stands}
            yield from _missing([each.stand], "the stand", stands, *at, "stand")


def _receivers(radio: RadioPart) -> Iterator[Wrong]:
    placed = {antenna.id for ground in radio.grounds for antenna in ground.antennas}
    known = kinds.receiver_kinds(radio)
    for each in radio.receivers:
        at = ("receivers", each.id)
        yield from _missing(each.antennas, "the antenna", placed, *at, "antennas")
        if not each.hears:  # of those that hear, the question for carriers tells
            yield from _missing([each.model], "the kind of receiver", known, *at, "model")


def _control(radio: RadioPart) -> Iterator[Wrong]:
    grounds = {ground.id for ground in radio.grounds}
    for each in radio.control:
        yield from _missing([each.ground], "the ground", grounds, "control", each.id, "ground")


def _ground(radio: RadioPart, ground: Ground) -> Iterator[Wrong]:
    at = ("grounds", ground.id)
    stands = {stand.id for stand in ground.stands}
    placed = {antenna.id for antenna in ground.antennas}
    sending = {each.id for each in radio.transmitters}
    kinds_known, cables_known, made_of = antennas.antennas(radio), cables.cables(radio), materials.materials(radio)
    for antenna in ground.antennas:
        here = (*at, "antennas", antenna.id)
        yield from _missing([antenna.model], "the kind of antenna", kinds_known, *here, "model")
        yield from _missing([antenna.cable], "the cable", cables_known, *here, "cable")
    for wall in ground.walls:
        if wall.loss_db is None:
            yield from _missing([wall.material], "the material", made_of, *at, "walls", wall.id, "material")
    for reading in ground.readings:
        here = (*at, "readings", reading.id)
        yield from _missing([reading.stand], "the stand", stands, *here, "stand")
        yield from _missing([reading.transmitter], "the transmitter", sending, *here, "transmitter")
        yield from _missing([reading.antenna], "the antenna", placed, *here, "antenna")


def _sites(radio: RadioPart, site_ids: Collection[str]) -> Iterator[Wrong]:
    listed = (
        ("transmitters", [(each.id, each.sites) for each in radio.transmitters]),
        ("excluded", [(each.id, each.sites) for each in radio.excluded]),
        ("scans", [(each.id, each.sites) for each in radio.scans]),
    )
    for name, rows in listed:
        for key, sites in rows:
            yield from _missing(sites, "the site", site_ids, name, key, "sites")
    for ground in radio.grounds:
        yield from _missing([ground.id], "the site", site_ids, "grounds", ground.id)
