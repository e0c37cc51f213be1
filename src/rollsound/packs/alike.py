"""Packs that are alike told apart at last: whoever has a pack of one kind gets the one that is named for him or her.

Two packs are alike when a plan costs the same with one in the other's place all through the show. So names on tracks
can follow what is written elsewhere, and nothing is given up for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rollsound.packs.task import Cover, PackTask, Worn


def as_named(task: PackTask, worn: Worn, named: Mapping[str, str]) -> dict[tuple[int, str], Cover]:
    """A plan that costs the same, in which as many words as can be are spoken into the pack of their speaker.

    Parameters
    ----------
    named
        characters by the pack that is theirs
    """
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    words: dict[tuple[str, str], int] = {}
    for (n, who), cover in worn.items():
        for pack in cover.packs:
            words[pack, who] = words.get((pack, who), 0) + task.voices(n)[who].weight
    becomes: dict[str, str] = {}
    for packs in alike_packs(task):
        gain = np.array([[words.get((pack, named.get(other, "")), 0) for other in packs] for pack in packs])
        # With words alike, a pack stays what it is.
        rows, columns = linear_sum_assignment(gain * 2 + np.eye(len(packs), dtype=int), maximize=True)
        becomes.update((packs[row], packs[column]) for row, column in zip(rows, columns, strict=True))
    return {
        key: Cover(tuple(sorted(becomes.get(pack, pack) for pack in cover.packs)), cover.boom)
        for key, cover in worn.items()
    }


def alike_packs(task: PackTask) -> list[list[str]]:
    """Packs that may stand for each other; those that a wish or a kept plan names stand for themselves."""
    own = {who.pack for who in task.characters}
    own |= {pack for cover in task.kept.values() for pack in cover.packs}
    tracks = {who.track for who in task.characters} - {0}
    days = set(task.days)
    found: dict[tuple[bool, bool, frozenset[str]], list[str]] = {}
    for pack in task.packs:
        if pack.id not in own and pack.track not in tracks:
            found.setdefault((pack.small, pack.spare, pack.out & days), []).append(pack.id)
    return [packs for packs in found.values() if len(packs) > 1]


def by_first_wearer(task: PackTask, worn: Worn, order: Sequence[str]) -> dict[tuple[int, str], Cover]:
    """A plan that costs the same, in which alike packs come in the order of the first that ever wears them.

    Parameters
    ----------
    order
        of all characters; a search that keeps to it looks at no plan twice
    """
    place = {who: at for at, who in enumerate(order)}
    first: dict[str, int] = {}
    for (_, who), cover in worn.items():
        for pack in cover.packs:
            first[pack] = min(first.get(pack, len(place)), place[who])
    becomes: dict[str, str] = {}
    for packs in alike_packs(task):
        sorted_packs = sorted(packs, key=lambda pack: first.get(pack, len(place)))
        becomes.update(zip(sorted_packs, packs, strict=True))
    return {
        key: Cover(tuple(sorted(becomes.get(pack, pack) for pack in cover.packs)), cover.boom)
        for key, cover in worn.items()
    }
