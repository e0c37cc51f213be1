"""What is missing on a call sheet because the plan does not say it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from rollsound.quantities import several

if TYPE_CHECKING:
    from rollsound.actions.callsheet_model import PackRow, SceneRow
    from rollsound.actions.callsheet_packs import WiredDay
    from rollsound.actions.jams_model import JamsResult
    from rollsound.actions.power_model import PowerResult
    from rollsound.show.model import Day, Plan


def not_planned(
    plan: Plan,
    day: Day,
    scenes: Sequence[SceneRow],
    packs: Sequence[PackRow],
    wired: WiredDay,
    power: PowerResult | None,
    jams: JamsResult,
) -> Iterable[str]:
    """What is missing on the sheet because the plan does not say it."""
    if day.date is None:
        yield "The day has no date."
    if not (day.call and day.wrap):
        yield "Call or wrap is not written; what stands above was taken."
    if not day.sites:
        yield "No site is written for this day."
    if not day.scenes:
        yield "No scenes are written for this day."
    strange = [each.number for each in scenes if not each.in_script]
    if strange:
        one = len(strange) == 1
        yield (
            f"Scene{'' if one else 's'} {several(strange, 8)} {'is' if one else 'are'} not in the script part; who "
            "speaks and sings there is not known."
        )
    if not wired.by_scene and scenes:
        shown = "; who wears what by the radio part is shown" if any(each.wearers for each in packs) else ""
        yield f"The pack plan is not made for this day{shown}."
        bare = [f"{name} ({each.number})" for each in scenes for name in each.without]
        if wired.rows and bare:
            yield f"Heard, and without a pack by the radio part: {several(bare, 8)}. A boom must cover them."
    unplanned = [each.number for each in scenes if wired.by_scene and not wired.has(each.number) and each.in_script]
    if unplanned:
        yield f"The pack plan does not have scene {several(unplanned, 8)}; who is wired there is not known."
    sung = [each.number for each in scenes if each.sings and not each.songs]
    if sung:
        yield f"Sung, and no song is written with it: scene {several(sung)}; its playback and time code are not known."
    without = [each.name for each in packs if each.mhz is None]
    if without:
        yield f"Without a frequency: {several(without, 6)}. Leave what is on this list switched off."
    if not packs:
        yield "No transmitter is written for the sites of this day."
    if not plan.rig.feeds:
        yield "No monitor feed is written."
    if power is None:
        yield "Power is not planned; battery changes are not known."
    if not jams.devices:
        yield "No time code device is known; jam times are not known."
