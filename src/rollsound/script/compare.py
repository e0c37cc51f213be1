"""What a revised script changes: scenes added, omitted, moved, renumbered, changed, and what that costs the plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from typing import Literal

from rollsound.quantities import count
from rollsound.script.lengths import eighths_text
from rollsound.script.model import Said, Scene, ScriptPart, plain_number
from rollsound.script.names import key_of

ChangeKind = Literal["added", "omitted", "moved", "renumbered", "changed"]
_SAME_SCENE = 0.75
"""How much alike what is said must be before a scene is taken for one that has got another number."""
_ANYTHING_ALIKE = 0.45
"""Less alike than this, a number alone may be one that another scene has got now."""


@dataclass(frozen=True)
class PersonChange:
    """What one character says and sings in a scene, before and after."""

    character: str
    name: str
    spoken_before: int
    spoken: int
    sung_before: int
    sung: int

    @property
    def sentence(self) -> str:
        """For people: ``Runa speaks 12 words more``."""
        before, now = self.spoken_before + self.sung_before, self.spoken + self.sung
        if not before:
            does = "sings" if self.sung and not self.spoken else "speaks"
            return f"{self.name} now {does} here, {count(now, 'word')}"
        if not now:
            return f"{self.name} is silent now"
        told = [
            f"{verb} {count(abs(difference), 'word')} {'more' if difference > 0 else 'fewer'}"
            for verb, difference in (
                ("speaks", self.spoken - self.spoken_before),
                ("sings", self.sung - self.sung_before),
            )
            if difference
        ]
        return f"{self.name} {' and '.join(told)}"


@dataclass(frozen=True)
class SceneChange:
    """What happened to one scene; one may be changed and moved."""

    kinds: tuple[ChangeKind, ...]
    number: str
    number_before: str
    heading: str
    people: tuple[PersonChange, ...] = ()
    told: tuple[str, ...] = ()
    """Everything else, one sentence each without a full stop."""
    days: tuple[str, ...] = ()
    """Ids of the days that it is scheduled on."""


@dataclass(frozen=True)
class DayCost:
    """What a revision asks of a day that is scheduled."""

    day: str
    scenes: tuple[str, ...]
    newly_needed: tuple[str, ...] = ()
    """Ids of characters who had nothing to say on this day."""
    no_more: tuple[str, ...] = ()
    most_before: int = 0
    """The most speakers and singers of one scene of the day."""
    most: int = 0
    eighths_before: int = 0
    eighths: int = 0
    newly_sung: tuple[str, ...] = ()


@dataclass(frozen=True)
class Revision:
    """Everything that a revised script changes."""

    scenes: tuple[SceneChange, ...] = ()
    new_characters: tuple[str, ...] = ()
    """Names."""
    gone_characters: tuple[str, ...] = ()
    days: tuple[DayCost, ...] = ()
    unscheduled: tuple[str, ...] = ()
    """Numbers of scenes that came and stand on no day."""
    scheduled_and_gone: tuple[tuple[str, str], ...] = ()
    """Number of a scene that went, and the day that has it."""

    @property
    def nothing(self) -> bool:
        """Whether both say the same."""
        return not (self.scenes or self.new_characters or self.gone_characters)

    def of(self, kind: ChangeKind) -> tuple[SceneChange, ...]:
        """The scenes that something happened to."""
        return tuple(each for each in self.scenes if kind in each.kinds)


@dataclass
class _Pair:
    old: Scene | None
    new: Scene | None
    place: int = 0
    """Of the old one in its script."""
    kinds: list[ChangeKind] = field(default_factory=list)


def compare(old: ScriptPart, new: ScriptPart, days: Sequence[tuple[str, Sequence[str]]] = ()) -> Revision:
    """What ``new`` changes of ``old``.

    Parameters
    ----------
    days
        of the schedule in their order: id, and numbers of their scenes
    """
    pairs = _pairs(old, new)
    _mark_moved(pairs)
    ids = _same_ids(old, new)
    names = {ids.get(each.id, each.id): each.name for each in old.characters}
    names |= {each.id: each.name for each in new.characters}
    scheduled: dict[str, list[str]] = {}
    for day, numbers in days:
        for number in numbers:
            scheduled.setdefault(plain_number(number), []).append(day)
    changes = [change for pair in pairs if (change := _change(pair, ids, names, scheduled)) is not None]
    heard_before = {ids.get(id, id) for scene in old.scenes for id in scene.characters}
    heard = {id for scene in new.scenes for id in scene.characters}
    gone = [pair.old for pair in pairs if pair.old is not None and not _there(pair.new) and _there(pair.old)]
    came = [pair.new for pair in pairs if pair.new is not None and not _there(pair.old) and _there(pair.new)]
    return Revision(
        scenes=tuple(changes),
        new_characters=tuple(names[each.id] for each in new.characters if each.id in heard - heard_before),
        gone_characters=tuple(names.get(id, id) for id in sorted(heard_before - heard)),
        days=tuple(_costs(pairs, days, ids)),
        unscheduled=tuple(
            scene.number for scene in came if scene.number and plain_number(scene.number) not in scheduled
        ),
        scheduled_and_gone=tuple(
            (scene.number, day)
            for scene in gone
            if new.scene(scene.number) is None or not _there(new.scene(scene.number))
            for day in scheduled.get(plain_number(scene.number), ())
        ),
    )


def _there(scene: Scene | None) -> bool:
    return scene is not None and not scene.omitted


def _same_ids(old: ScriptPart, new: ScriptPart) -> dict[str, str]:
    """Ids of the old script's characters as the new one has them: by id, or by name."""
    there = {each.id for each in new.characters}
    by_name = {key_of(spelling): each.id for each in reversed(new.characters) for spelling in each.spellings}
    found = {each.id: by_name.get(key_of(each.name), "") for each in old.characters if each.id not in there}
    return {old_id: id for old_id, id in found.items() if id}


def _pairs(old: ScriptPart, new: ScriptPart) -> list[_Pair]:
    """Scenes of both that are one.

    First those that say exactly the same and are the only ones to, whatever their number; then by number where they are
    anything alike, then by what is said, then by number alone.
    """
    left = dict(enumerate(old.scenes))
    pairs = [_Pair(None, scene) for scene in new.scenes]
    _exactly(pairs, left)
    _by_number(pairs, left, least=_ANYTHING_ALIKE)
    for pair in pairs:
        if pair.old is None and pair.new is not None and not pair.new.omitted:
            best = _most_alike(pair.new, left)
            if best is not None:
                pair.old, pair.place = left.pop(best), best
    _by_number(pairs, left, least=0.0)
    return [*pairs, *(_Pair(scene, None, place) for place, scene in left.items())]


def _exactly(pairs: Sequence[_Pair], left: dict[int, Scene]) -> None:
    olds: dict[object, list[int]] = {}
    news: dict[object, list[_Pair]] = {}
    for at, scene in left.items():
        olds.setdefault(_print_of(scene), []).append(at)
    for pair in pairs:
        if pair.new is not None:
            news.setdefault(_print_of(pair.new), []).append(pair)
    for mark, found in news.items():
        if len(found) == 1 and len(olds.get(mark, ())) == 1 and found[0].new is not None and found[0].new.words:
            (at,) = olds[mark]
            found[0].old, found[0].place = left.pop(at), at


def _print_of(scene: Scene) -> object:
    return scene.heading.casefold(), frozenset(_words(scene).items()), scene.omitted


def _by_number(pairs: Iterable[_Pair], left: dict[int, Scene], *, least: float) -> None:
    for pair in pairs:
        if pair.old is not None or pair.new is None or not pair.new.number:
            continue
        wanted = plain_number(pair.new.number)
        found = next((at for at, scene in left.items() if plain_number(scene.number) == wanted), None)
        if found is None:
            continue
        gone = pair.new.omitted or left[found].omitted
        if gone or _alike(pair.new, left[found]) >= least:
            pair.old, pair.place = left.pop(found), found


def _most_alike(scene: Scene, left: Mapping[int, Scene]) -> int | None:
    shares = {at: _alike(scene, other) for at, other in left.items() if not other.omitted}
    best = max(shares, key=lambda at: shares[at], default=None)
    return best if best is not None and shares[best] >= _SAME_SCENE else None


def _alike(one: Scene, other: Scene) -> float:
    """From 0 to 1: half for the heading, half for who says how much."""
    head = SequenceMatcher(None, one.heading.casefold(), other.heading.casefold(), autojunk=False).ratio()
    words, others = _words(one), _words(other)
    most = sum(max(words.get(who, 0), others.get(who, 0)) for who in words.keys() | others.keys())
    common = sum(min(words.get(who, 0), others.get(who, 0)) for who in words.keys() & others.keys())
    return (head + (common / most if most else 0.5)) / 2


def _words(scene: Scene) -> dict[str, int]:
    found: dict[str, int] = {}
    for each in (*scene.speaks, *scene.sings):
        found[each.character] = found.get(each.character, 0) + each.words
    return found


def _mark_moved(pairs: Iterable[_Pair]) -> None:
    """A scene is moved when it is not of the longest run of those that stayed in their order."""
    both = [pair for pair in pairs if _there(pair.old) and _there(pair.new)]
    stays = _longest_rising([pair.place for pair in both])
    for at, pair in enumerate(both):
        if at not in stays:
            pair.kinds.append("moved")


def _longest_rising(values: Sequence[int]) -> set[int]:
    """Positions of the longest rising subsequence."""
    best: list[tuple[int, int]] = []
    for at, value in enumerate(values):
        before = [(best[j][0], j) for j in range(at) if values[j] < value]
        length, last = max(before, default=(0, -1))
        best.append((length + 1, last))
    at = max(range(len(best)), key=lambda index: best[index][0], default=-1)
    found: set[int] = set()
    while at >= 0:
        found.add(at)
        at = best[at][1]
    return found


def _change(
    pair: _Pair, ids: Mapping[str, str], names: Mapping[str, str], scheduled: Mapping[str, Sequence[str]]
) -> SceneChange | None:
    old, new = pair.old, pair.new
    kinds = list(pair.kinds)
    people: tuple[PersonChange, ...] = ()
    told: list[str] = []
    if old is not None and _there(old) and new is not None and _there(new):
        if plain_number(old.number) != plain_number(new.number):
            kinds.insert(0, "renumbered")
        people = _people(old, new, ids, names)
        told = _otherwise(old, new)
        if people or told:
            kinds.append("changed")
    elif new is not None and _there(new):
        kinds = ["added"]
        people = _people(None, new, ids, names)
    elif old is not None and _there(old):
        kinds = ["omitted"]
    shown = new if _there(new) else old
    if not kinds or shown is None:
        return None
    numbers = dict.fromkeys(plain_number(each.number) for each in (new, old) if each is not None and each.number)
    days = dict.fromkeys(day for number in numbers for day in scheduled.get(number, ()))
    return SceneChange(
        kinds=tuple(kinds),
        number=shown.number,
        number_before=old.number if old is not None else "",
        heading=shown.heading,
        people=people,
        told=tuple(told),
        days=tuple(days),
    )


def _people(
    old: Scene | None, new: Scene, ids: Mapping[str, str], names: Mapping[str, str]
) -> tuple[PersonChange, ...]:
    def words(said: Iterable[Said], ids: Mapping[str, str]) -> dict[str, int]:
        return {ids.get(each.character, each.character): each.words for each in said}

    spoken_before, sung_before = words(old.speaks if old else (), ids), words(old.sings if old else (), ids)
    spoken, sung = words(new.speaks, {}), words(new.sings, {})
    changes = []
    for who in dict.fromkeys((*spoken, *sung, *spoken_before, *sung_before)):
        change = PersonChange(
            character=who,
            name=names.get(who, who),
            spoken_before=spoken_before.get(who, 0),
            spoken=spoken.get(who, 0),
            sung_before=sung_before.get(who, 0),
            sung=sung.get(who, 0),
        )
        if (change.spoken, change.sung) != (change.spoken_before, change.sung_before):
            changes.append(change)
    return tuple(changes)


def _otherwise(old: Scene, new: Scene) -> list[str]:
    told = []
    if old.heading.casefold() != new.heading.casefold():
        told.append(f"the heading was '{old.heading}'")
    if old.sung != new.sung:
        told.append("it is sung now" if new.sung else "it is not sung any more")
    if old.dual != new.dual:
        told.append("two speak at once now" if new.dual else "nobody speaks at once any more")
    if abs(old.eighths - new.eighths) >= 2:  # one eighth is within what reckoning a page can tell
        told.append(f"it runs {eighths_text(new.eighths)} pages instead of {eighths_text(old.eighths)}")
    kinds_before = {cue.kind for cue in old.cues}
    kinds = {cue.kind for cue in new.cues}
    if kinds - kinds_before:
        told.append(f"new to be heard: {', '.join(sorted(kinds - kinds_before))}")
    if kinds_before - kinds:
        told.append(f"not heard any more: {', '.join(sorted(kinds_before - kinds))}")
    return told


def _costs(
    pairs: Sequence[_Pair], days: Sequence[tuple[str, Sequence[str]]], ids: Mapping[str, str]
) -> Iterable[DayCost]:
    olds = {plain_number(pair.old.number): pair for pair in pairs if pair.old is not None and pair.old.number}
    news = {plain_number(pair.new.number): pair for pair in pairs if pair.new is not None and pair.new.number}
    for day, numbers in days:
        plain = [plain_number(number) for number in numbers]
        before = [pair.old for number in plain if (pair := olds.get(number)) and pair.old and _there(pair.old)]
        after = [pair.new for number in plain if (pair := news.get(number)) and pair.new and _there(pair.new)]
        were = {ids.get(id, id) for scene in before for id in scene.characters}
        are = dict.fromkeys(id for scene in after for id in scene.characters)
        sung_before = {plain_number(scene.number) for scene in before if scene.sung}
        cost = DayCost(
            day=day,
            scenes=tuple(numbers),
            newly_needed=tuple(id for id in are if id not in were),
            no_more=tuple(sorted(were - are.keys())),
            most_before=max((len(scene.characters) for scene in before), default=0),
            most=max((len(scene.characters) for scene in after), default=0),
            eighths_before=sum(scene.eighths for scene in before),
            eighths=sum(scene.eighths for scene in after),
            newly_sung=tuple(s.number for s in after if s.sung and plain_number(s.number) not in sung_before),
        )
        changed = cost.newly_needed or cost.no_more or cost.newly_sung or cost.most != cost.most_before
        if changed or abs(cost.eighths - cost.eighths_before) >= 2:
            yield cost
