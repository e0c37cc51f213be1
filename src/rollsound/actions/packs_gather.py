"""What a pack plan needs of a plan: who is heard in which scene of which day, packs and booms on tracks, and wishes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from rollsound.errors import InputError
from rollsound.packs.model import BoomGiven, PackGiven, names_wrong
from rollsound.packs.task import Boom, Character, Cover, Gap, Kind, Pack, PackTask, Slot, Voice
from rollsound.power.day import minutes
from rollsound.rig.ends import read_end
from rollsound.script.model import Character as InScript
from rollsound.script.model import Scene, plain_number
from rollsound.show.model import Day, Plan
from rollsound.wrong import Wrong, not_there

_KINDS: Mapping[str, Kind] = {"child": "child", "stunt double": "stunt", "group": "crowd", "adult": "adult"}
_RATHER_BOOM: frozenset[Kind] = frozenset({"stunt", "crowd", "other"})
_NIGHT = 24 * 60
_CALL, _WRAP = "07:00", "19:00"


@dataclass(frozen=True)
class PacksOfShow:
    """A plan as the pack plan sees it. ``without`` are ids of packs and booms that fail on ``day``, or on every day."""

    plan: Plan
    day: str = ""
    without: Collection[str] = ()
    near: bool = False
    """Whether the plan that was kept is to be stayed near to."""

    @cached_property
    def wrong(self) -> tuple[Wrong, ...]:
        """Every name that points at nothing: in the packs part, and scenes of days that the script does not have."""
        plan = self.plan
        found = names_wrong(
            plan.packs,
            characters=[each.id for each in plan.script.characters],
            packs=[pack.id for pack in self.packs],
            days=[day.id for day in plan.schedule.days],
            scenes=[scene.number for scene in plan.script.scenes],
        )
        known = [scene.number for scene in plan.script.scenes if scene.number]
        scenes = [
            Wrong(("schedule", "days", day.id, "scenes"), not_there(number, "the scene", known))
            for day in plan.schedule.days
            for number in day.scenes
            if plan.script.scene(number) is None
        ]
        return (*found, *self._one_track(), *(scenes if plan.script.scenes else ()))

    def _one_track(self) -> Iterator[Wrong]:
        """Packs and booms that are written on a track which another has."""
        written = {each.id: "packs" for each in self.plan.packs.packs if each.track}
        written |= {each.id: "booms" for each in self.plan.packs.booms if each.track}
        things = [*((each.id, each.track) for each in self.packs), *((each.id, each.track) for each in self.booms)]
        for id, track in things:
            other = next((one for one, number in things if number == track and one != id), "")
            if id in written and other:
                sentence = f"is {track}, where {other} is too; give each a track of its own"
                yield Wrong(("packs", written[id], id, "track"), sentence)

    @cached_property
    def tracks(self) -> Mapping[str, int]:
        """Track numbers by the id of the radio transmitter, as the rig's sources and links tell."""
        rig = self.plan.rig
        sends = {piece.id: piece.transmitter for piece in rig.pieces if piece.transmitter}
        after: dict[str, list[str]] = {}
        for link in rig.links:
            after.setdefault(_piece(link.from_), []).append(_piece(link.to))
        transmitters = {each.id for each in self.plan.radio.transmitters}
        source_of: dict[str, str] = {}
        for source in rig.sources:
            start = _piece(source.at)
            found = next((sends[id] for id in (start, *after.get(start, ())) if id in sends), "")
            source_of[source.id] = found or (source.id if source.id in transmitters else "")
        numbers: dict[str, int] = {}
        for track in rig.tracks:
            sent = source_of.get(track.source, "") or sends.get(track.source, "")
            sent = sent or (track.source if track.source in transmitters else "")
            if sent:
                numbers.setdefault(sent, track.number)
        return numbers

    @cached_property
    def spelt(self) -> Mapping[str, InScript]:
        """Characters by id and by every spelling, in small letters."""
        found: dict[str, InScript] = {}
        for each in self.plan.script.characters:
            for spelling in (each.id, *each.spellings):
                found.setdefault(spelling.casefold(), each)
        return found

    @cached_property
    def packs(self) -> tuple[Pack, ...]:
        """Packs that there are; those that no character wears in the radio part are spares."""
        given = {each.id: each for each in self.plan.packs.packs}
        usable = set(self.plan.packs.tracks)
        found = []
        for each in self.plan.radio.transmitters:
            if each.kind in ("body pack", "plant"):
                own = given.pop(each.id, PackGiven(id=each.id))
                spare = (bool(each.wearer) and each.wearer.casefold() not in self.spelt) or each.kind == "plant"
                if not own.unused:
                    found.append(self._pack(own, own.name or each.name, spare))
        found += [self._pack(own, own.name or own.id, False) for own in given.values() if not own.unused]
        return tuple(pack for pack in found if not usable or pack.track in usable)

    @property
    def off_tracks(self) -> tuple[str, ...]:
        """Names of packs that are left out, as no track for isos has them."""
        there = {pack.id for pack in self.packs}
        unused = {each.id for each in self.plan.packs.packs if each.unused}
        packs = [each for each in self.plan.radio.transmitters if each.kind in ("body pack", "plant")]
        return tuple(each.name for each in packs if each.id not in there | unused)

    def _pack(self, own: PackGiven, name: str, spare: bool) -> Pack:
        track = own.track or self.tracks.get(own.id, 0)
        return Pack(own.id, name, track, own.small, spare if own.spare is None else own.spare, self._out(own))

    @cached_property
    def booms(self) -> tuple[Boom, ...]:
        """Booms that there are."""
        given = {each.id: each for each in self.plan.packs.booms}
        found = []
        for each in self.plan.radio.transmitters:
            if each.kind == "boom":
                own = given.pop(each.id, BoomGiven(id=each.id))
                if not own.unused:
                    name = own.name or each.wearer or each.name
                    found.append(Boom(own.id, name, own.track or self.tracks.get(own.id, 0), self._out(own)))
        found += [
            Boom(own.id, own.name or own.id, own.track, self._out(own)) for own in given.values() if not own.unused
        ]
        return tuple(found)

    def _out(self, own: PackGiven | BoomGiven) -> frozenset[str]:
        days = self.plan.schedule.days
        out = set(own.out)
        if own.id in self.without:
            out |= {self.day} if self.day else {day.id for day in days}
        first_of_date: dict[object, str] = {}
        for day in days:  # who names no unit works with the main one, the first that is listed for the date
            main = first_of_date.setdefault(day.date or day.id, day.unit)
            if day.unit != (own.unit or main):
                out.add(day.id)
        return frozenset(out)

    @cached_property
    def characters(self) -> tuple[Character, ...]:
        """Everybody who is heard, and what is wished."""
        heard = dict.fromkeys(voice.character for slot in self.slots for voice in slot.voices)
        known = {each.id: each for each in self.plan.script.characters}
        return tuple(self._character(known.get(id, InScript(id=id, name=id))) for id in heard)

    def _character(self, who: InScript) -> Character:
        part = self.plan.packs
        wish = part.wish(who.id)
        kind = _KINDS.get(who.kind, "other")
        boom = wish.boom if wish is not None and wish.boom is not None else kind in _RATHER_BOOM and wish is None
        dual = (wish is not None and wish.dual) or (part.dual_principals and who.principal)
        small = wish.small if wish is not None and wish.small is not None else kind == "child"
        only = wish is not None and wish.boom_only
        pack = wish.pack if wish is not None else ""
        track = wish.track if wish is not None else 0
        return Character(
            id=who.id,
            name=who.name,
            kind=kind,
            principal=who.principal,
            pack="" if only or boom else pack,
            track=track,
            dual=dual and not only and not boom,
            small=small and any(each.small for each in self.packs),
            rather_boom=boom,
            boom_only=only,
            no_pack=self._numbers(wish.no_pack if wish is not None else ()),
            weight=wish.weight if wish is not None else 1,
        )

    @cached_property
    def named(self) -> Mapping[str, str]:
        """Characters by the pack that the radio part gives them."""
        found = {}
        for each in self.plan.radio.transmitters:
            wearer = self.spelt.get(each.wearer.casefold()) if each.wearer else None
            if wearer is not None:
                found[each.id] = wearer.id
        return found

    def _numbers(self, written: Iterable[str]) -> frozenset[str]:
        wanted = {plain_number(each) for each in written}
        return frozenset(slot.scene for slot in self.slots if plain_number(slot.scene) in wanted)

    @cached_property
    def slots(self) -> tuple[Slot, ...]:
        """Scenes of all days in order, with what lies before each."""
        return tuple(slot for day in self.plan.schedule.days for slot in self._day(day))

    def _day(self, day: Day) -> Iterator[Slot]:
        scenes = [scene for number in day.scenes if (scene := self.plan.script.scene(number)) and not scene.omitted]
        breaks = self._breaks(day, scenes)
        site = day.site
        for n, scene in enumerate(scenes):
            here = self._site(day, scene) or site
            gap: Gap = "scene"
            name = ""
            if n == 0:
                gap = "day"
            elif n in breaks:
                gap, name = "break", breaks[n]
            elif here != site:
                gap, name = "move", f"the move to {self._site_name(here)}"
            site = here
            yield Slot(day.id, scene.number, gap, tuple(_voices(scene)), here, name)

    def _breaks(self, day: Day, scenes: list[Scene]) -> dict[int, str]:
        """Which scene follows each break: scenes share the day's hours by their length."""
        spans = sorted(
            (_after(day, minutes(each.from_)), _after(day, minutes(each.to)), each.note or "the break")
            for each in day.breaks
        )
        spans += [
            (_after(day, minutes(phase.from_)), _after(day, minutes(phase.to)), phase.id.replace("-", " "))
            for phase in self.plan.power.phases
            if phase.break_ and phase.day in ("", day.id) and not spans
        ]
        call, wrap = minutes(day.call or _CALL), _after(day, minutes(day.wrap or _WRAP))
        whole = sum(max(1, scene.eighths) for scene in scenes)
        work = wrap - call - sum(end - start for start, end, _ in spans)
        found: dict[int, str] = {}
        changes, done = [], 0
        for n, scene in enumerate(scenes[:-1], 1):
            done += max(1, scene.eighths)
            changes.append((done / max(1, whole), n))
        for start, _, name in spans:
            before = start - call - sum(end - first for first, end, _ in spans if end <= start)
            share = before / max(1, work)
            if changes:  # the change of scene that lies nearest to the break
                found.setdefault(min((abs(at - share), n) for at, n in changes)[1], name)
        return found

    def _site(self, day: Day, scene: Scene) -> str:
        """The site of a day that a scene's place names; none where the day has one, or nothing matches."""
        if len(day.sites) < 2:
            return ""
        place = _words(scene.place)
        return next((id for id in day.sites if place & (_words(id) | _words(self._site_name(id)))), "")

    def _site_name(self, id: str) -> str:
        return next((site.name for site in self.plan.sites if site.id == id), id)

    @cached_property
    def _rows(self) -> Mapping[tuple[str, str], Mapping[str, Cover]]:
        """What was kept, by day and number of the scene, of packs that there are."""
        there = {pack.id for pack in self.packs}
        rows: dict[tuple[str, str], Mapping[str, Cover]] = {}
        for each in self.plan.packs.assigned:
            covers = {who: Cover(tuple(sorted(there & set(packs)))) for who, packs in each.packs.items() if packs}
            covers |= {who: Cover((), True) for who in each.boom}
            covers |= {who: Cover() for who in each.nobody}
            rows[each.day, plain_number(each.scene)] = covers
        return rows

    @cached_property
    def kept(self) -> Mapping[tuple[int, str], Cover]:
        """The plan that was kept, by slot and character."""
        return {
            (n, voice.character): covers[voice.character]
            for n, slot in enumerate(self.slots)
            for voice in slot.voices
            if voice.character in (covers := self._rows.get((slot.day, plain_number(slot.scene)), {}))
        }

    @cached_property
    def _nearest(self) -> dict[tuple[int, str], Cover]:
        """The same, and a scene that moved to another day has what it had there."""
        by_scene: dict[str, Mapping[str, Cover]] = {}
        for (_, number), covers in self._rows.items():
            by_scene.setdefault(number, covers)
        moved = {
            (n, voice.character): covers[voice.character]
            for n, slot in enumerate(self.slots)
            if (slot.day, plain_number(slot.scene)) not in self._rows
            for voice in slot.voices
            if voice.character in (covers := by_scene.get(plain_number(slot.scene), {}))
        }
        return {**moved, **self.kept}

    @cached_property
    def task(self) -> PackTask:
        """What is asked.

        Raises
        ------
        InputError
            when the plan has no script or no scenes on its days, or a name is not there
        """
        plan = self.plan
        if not plan.script.scenes:
            raise InputError(
                "the plan has no script, so nobody knows who is heard in which scene; read one with "
                "'rollsound script SHOW FILE --save'"
            )
        known = {day.id for day in plan.schedule.days}
        if self.day and self.day not in known:
            raise InputError(
                f"the schedule has no day '{self.day}'; there are: {', '.join(sorted(known)) or 'none yet'}"
            )
        things = {*(pack.id for pack in self.packs), *(boom.id for boom in self.booms)}
        for id in self.without:
            if id not in things:
                raise InputError(f"--without {not_there(id, 'the pack or boom', sorted(things))}")
        if not any(slot.voices for slot in self.slots):
            raise InputError(
                "no day of the schedule has a scene in which somebody is heard; write the numbers of scenes at each day"
            )
        return PackTask(
            self.packs,
            self.booms,
            self.characters,
            tuple(self.slots),
            plan.packs.boom_covers,
            self._nearest if self.near else {},
        )

    @cached_property
    def day_names(self) -> Mapping[str, str]:
        """What days are called, by id."""
        return {
            day.id: f"day {day.number}{f', {day.unit}' if day.unit else ''}" if day.number is not None else day.id
            for day in self.plan.schedule.days
        }


def _piece(end: str) -> str:
    try:
        return read_end(end).piece if end else ""
    except InputError:  # told by the rig's own proofs
        return ""


def _words(text: str) -> set[str]:
    plain = "".join(letter if letter.isalnum() else " " for letter in text.casefold())
    return {word for word in plain.split() if len(word) > 3}


def _after(day: Day, minute: int) -> int:
    """Minutes from midnight of the day, past midnight where it lies before the call."""
    return minute + _NIGHT if minute < minutes(day.call or _CALL) else minute


def _voices(scene: Scene) -> Iterator[Voice]:
    """Who is heard on set: a voice over is not."""
    for who in scene.characters:
        spoken = [each for each in scene.speaks if each.character == who and each.off != "voice over"]
        sung = [each for each in scene.sings if each.character == who and each.off != "voice over"]
        if spoken or sung:
            said = (*spoken, *sung)
            yield Voice(who, sum(each.words for each in said), sum(each.lines for each in said), bool(sung))
