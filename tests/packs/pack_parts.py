"""Small pack plans to ask for: the ferry's people, packs by number, scenes by who is heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hypothesis import strategies as st

from rollsound.packs.task import Boom, Character, Cover, Gap, Pack, PackTask, Slot, Voice

NAMES = ("Bram", "Idris", "Runa", "Tomasz", "Anoush", "Okello", "Maelis", "Haru", "Signy", "Leila", "Nkechi")


def packs(number: int, **more: Mapping[int, Any]) -> tuple[Pack, ...]:
    """Packs 1 to ``number`` on tracks 6 up; ``spare={3: True}`` for the third."""
    return tuple(
        Pack(f"pack-{n:02}", f"Pack {n}", 5 + n, **{key: of[n] for key, of in more.items() if n in of})
        for n in range(1, number + 1)
    )


def booms(number: int) -> tuple[Boom, ...]:
    """Booms 1 to ``number`` on tracks 3 up."""
    return tuple(Boom(f"boom-{n}", f"Boom {n}", 2 + n) for n in range(1, number + 1))


def person(name: str, **wishes: Any) -> Character:
    """A character with wishes."""
    return Character(name.lower(), name, **wishes)


def slot(day: int, scene: str, gap: Gap, *heard: str, words: Sequence[int] = (), sings: Sequence[str] = ()) -> Slot:
    """A scene of a day; 20 words each where nothing is said."""
    voices = [Voice(who.lower(), words[n] if n < len(words) else 20, 2, who in sings) for n, who in enumerate(heard)]
    return Slot(f"day-{day}", scene, gap, tuple(voices), "quay")


@st.composite
def small_tasks(draw: st.DrawFn, kept: bool = False) -> PackTask:
    """Two days of up to three scenes, three characters, up to three packs, with every wish now and then."""
    has = packs(
        draw(st.integers(0, 3)),
        small=dict.fromkeys(draw(st.sets(st.integers(1, 3), max_size=1)), True),
        spare=dict.fromkeys(draw(st.sets(st.integers(1, 3), max_size=1)), True),
        out={n: frozenset({"day-2"}) for n in draw(st.sets(st.integers(1, 3), max_size=1))},
    )
    people = tuple(
        Character(
            name.lower(),
            name,
            pack=draw(st.sampled_from(["", "", "", "pack-01", "pack-02"])),
            track=draw(st.sampled_from([0, 0, 0, 6, 7])),
            dual=name == "Bram" and draw(st.booleans()),
            small=draw(st.sampled_from([False, False, True])),
            rather_boom=draw(st.sampled_from([False, False, False, True])),
            boom_only=draw(st.sampled_from([False, False, False, True])),
            no_pack=frozenset(draw(st.sampled_from([(), (), ("2",)]))),
            weight=draw(st.integers(1, 3)),
        )
        for name in NAMES[:3]
    )
    slots = []
    for day, number in ((1, draw(st.integers(1, 3))), (2, draw(st.integers(1, 2)))):
        for at in range(number):
            gap: Gap = draw(st.sampled_from(["scene", "break"])) if at else "day"
            heard = draw(st.lists(st.sampled_from(NAMES[:3]), min_size=1, max_size=3, unique=True))
            words = [draw(st.integers(0, 9)) for _ in heard]
            slots.append(slot(day, str(at + 1 + 3 * (day - 1)), gap, *heard, words=words))
    was: dict[tuple[int, str], Cover] = {}
    if kept:
        for n, each in enumerate(slots):
            for voice in each.voices:
                choice = draw(st.sampled_from(["", "boom", "pack-01", "pack-02"]))
                if choice:
                    was[n, voice.character] = Cover(() if choice == "boom" else (choice,), choice == "boom")
    return PackTask(has, booms(draw(st.integers(0, 1))), people, tuple(slots), draw(st.integers(1, 2)), was)
