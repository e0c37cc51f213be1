"""A plan for one site, held against all others before it is saved: the same transmitters send there too."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from rollsound.errors import InputError
from rollsound.radio.carriers.answer import Hold
from rollsound.radio.model import RadioPart
from rollsound.radio.per_site import ELSEWHERE, site_tasks
from rollsound.radio.proofs import carriers_of
from rollsound.radio.scan import ScanLevels
from rollsound.radio.telling import hold_in_words


def refuse_elsewhere(
    radio: RadioPart,
    carriers_hz: Mapping[str, int],
    *,
    sites: Collection[str],
    site_names: Mapping[str, str],
    scans: Mapping[str, ScanLevels],
) -> None:
    """Refuse carriers that break on another site what holds there now.

    Parameters
    ----------
    carriers_hz
        what is to be saved, by transmitter; the others keep what they have
    sites
        ids of the sites that they were found for; with none they were found for all of them

    Raises
    ------
    InputError
        with the site and the worst relation
    """
    if not sites:
        return
    from rollsound.radio.carriers.audit import audit

    before = carriers_of(radio)
    after = {**before, **carriers_hz}
    for site, task in site_tasks(radio, scans=scans, site_ids=tuple(site_names)).items():
        if site in sites:
            continue
        known = {_key(hold) for hold in audit(task, before).broken}
        new = [hold for hold in audit(task, after).broken if _key(hold) not in known]
        if new:
            names = {each.id: each.name for each in radio.transmitters}
            where = site_names.get(site, site) if site != ELSEWHERE else "the other sites"
            raise InputError(
                f"nothing was saved: on {where}, {hold_in_words(new[0], names)}; plan for all sites at once, or give "
                "each its own transmitters"
            )


def _key(hold: Hold) -> tuple[str, str, tuple[str, ...]]:
    return hold.limit.value, hold.hit, hold.sources
