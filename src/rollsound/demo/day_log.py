"""The log of days 3 and 4 of *Northbound Ferry*, as three people wrote it, with mistakes that a cross-check can find.

Day 4 is the day whose recordings the demo makes: its takes are those of ``day_four``, in the same compressed time, but
for what ``SEEDED`` tells. Day 3 has no recordings; its log shows a whole day's hours, jams and batteries.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from typing import Any

from rollsound.demo.day_four import DAY_FOUR
from rollsound.demo.scenario import Block, Day, Site, Take
from rollsound.errors import InputError
from rollsound.log.daybook import LogBook, NewLine
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.show.model import Plan
from rollsound.timecode import Rate, Timecode

DAY_3, DAY_4 = "day-3", "day-4"
RATE = Rate.parse("25")
HERE = timezone(timedelta(hours=1))
MIXER, BOOM, FLOOR = "cart laptop", "boom phone", "floor phone"
_WRITERS = {MIXER: "ines", BOOM: "mattis", FLOOR: "adjoa"}


@dataclass(frozen=True)
class Seeded:
    """A mistake that was written into the log on purpose: the line it is in, and what a check calls it."""

    line: str
    kind: str
    words: str


SEEDED: tuple[Seeded, ...] = (
    Seeded("d3-take-07", "duplicate take", "slate 210 take 1 was written on the cart and by the boom in one minute"),
    Seeded("d3-pack-12", "pack on two at once", "pack 9 was given to two people by two phones"),
    Seeded("d4-take-03", "length differs", "slate 215 take 1: time code out is ten seconds late"),
    Seeded("d4-take-06", "take differs", "slate 216 take 2 stands in the log as take 3"),
    Seeded("d4-take-07", "circled differs", "slate 217 take 1 was circled on the recorder, and nobody ticked it here"),
    Seeded("d4-take-08", "sound roll differs", "slate 218 take 1 stands on the roll of the day before"),
    Seeded("d4-take-09", "take without a file", "slate 218 take 2 was called and never rolled"),
    Seeded("d4-take-10", "time code differs", "the room tone's time code in has its minutes turned round"),
    Seeded("d4-promise-2", "wild track promised", "a fiddle alone was promised, and never recorded"),
)
"""By the day and in the order in which they were written."""

_CHAPEL_MIC = {"Idris": "collar", "Runa": "chest", "Haru": "collar", "Signy": "hair", "Leila": "hair", "Nkechi": "hair"}
_DECK_MIC = "under the collar, fur on"
_PACKS: dict[str, float] = {Site.DECK: 25, Site.QUAY: 50, Site.CHAPEL: 10}


def write_log(show: Show) -> None:
    """Write the log of both days into the demo's show; what an earlier run wrote is not written twice.

    Raises
    ------
    StorageError
        when the disk fails or is full
    """
    book, plan = LogBook(show.store), show.plan()
    for day, lines in ((DAY_3, day_three()), (DAY_4, day_four(plan))):
        for device in (MIXER, BOOM, FLOOR):
            own = [line for who, line in lines if who == device]
            book.add_all(own, _author(plan, device), key=f"demo-{day}-{device}")


def _author(plan: Plan, device: str) -> Author:
    """The mixer at the cart, the first boom operator and the sound assistant on their phones."""
    person = plan.person(_WRITERS[device])
    if person is None:
        raise InputError(f"the demo's plan has nobody called {_WRITERS[device]}, who writes the log")
    return Author(person.name, person.id, device)


Told = list[tuple[str, NewLine]]


# ---- day 3: the quay, a whole day ------------------------------------------------------------------------------------

_THREE: tuple[tuple[str, str, str, str, str, str, str, str], ...] = (
    # id, rolls at, seconds, scene, slate, take, kind and marks, note
    ("d3-take-01", "10:12:20", "48", "27", "207", "1", "no good", "Ferry horn over the last line"),
    ("d3-take-02", "10:21:05", "52", "27", "207", "2", "circled", ""),
    ("d3-take-03", "10:48:40", "63", "27", "208", "1", "", "Gulls, all through"),
    ("d3-take-04", "11:02:10", "61", "27", "208", "2", "circled", ""),
    ("d3-take-05", "11:47:30", "35", "28A", "209", "1", "false start", "Slate in the shot"),
    ("d3-take-06", "11:50:15", "74", "28A", "209", "2", "circled", "Wind on Boom 2 at the end"),
    ("d3-take-07", "12:34:00", "80", "28A", "210", "1", "circled", ""),
    ("d3-take-09", "15:20:40", "118", "29", "211", "1", "", "Okello off the microphone at the bollard"),
    ("d3-take-10", "15:41:12", "121", "29", "211", "2", "circled", ""),
    ("d3-take-11", "16:30:00", "97", "29", "212", "1", "circled", "Rain begins"),
    ("d3-take-13", "18:02:00", "44", "29", "213", "1", "series", "Three times without a cut"),
)


def day_three() -> Told:
    """The lines of day 3, each with the device that wrote it."""
    lines: Told = []

    def put(writer: str, id: str, kind: str, clock: str, /, **fields: Any) -> None:
        lines.append((writer, NewLine(kind, fields, DAY_3, _at("2031-02-17", clock), id)))

    put(FLOOR, "d3-cold-1", "temperature", "09:05:00", temperature_c=-3.5, site="quay", note="Snow on the rails")
    for n, (device, clock) in enumerate((("slate", "09:10:00"), ("sync-box", "09:11:00")), 1):
        put(BOOM, f"d3-jam-{n}", "jam", clock, device=device, source="recorder", timecode=f"{clock}:00")
    for n, (device, clock, off) in enumerate((("slate", "14:05:00", 0.35), ("sync-box", "14:06:00", -0.18)), 3):
        put(BOOM, f"d3-jam-{n}", "jam", clock, device=device, source="recorder", timecode=f"{clock}:00",
            offset_frames=off)  # fmt: skip
    for n, (device, clock, off) in enumerate((("slate", "18:20:00", 0.28), ("sync-box", "18:21:00", -0.16)), 5):
        put(BOOM, f"d3-jam-{n}", "jam", clock, device=device, source="recorder", what="checked", offset_frames=off)
    worn = (("pack-01", "Bram"), ("pack-03", "Runa"), ("pack-04", "Tomasz"), ("pack-06", "Okello"), ("pack-08", "Haru"))
    for n, (pack, who) in enumerate(worn, 1):
        put(FLOOR, f"d3-pack-{n:02d}", "wearing", f"09:{25 + n}:00", pack=pack, character=who, mic_place="collar",
            power_mw=50)  # fmt: skip
        put(FLOOR, f"d3-cell-{n}", "battery", f"09:{20 + n}:00", item=pack)
        put(FLOOR, f"d3-cell-{n + 10}", "battery", f"14:{10 + n}:00", item=pack)
    put(FLOOR, "d3-cell-20", "battery", "12:05:00", item="pack-06", what="checked", percent=25, note="Cold")
    put(FLOOR, "d3-pack-11", "wearing", "14:30:00", pack="pack-09", character="Signy", mic_place="hair", power_mw=50)
    put(BOOM, "d3-pack-12", "wearing", "14:30:30", pack="pack-09", character="Leila", mic_place="hair")
    put(MIXER, "d3-over-1", "changeover", "09:40:00", changeover="boom-1", position="radio")
    put(MIXER, "d3-over-2", "changeover", "09:40:20", changeover="boom-2", position="cable")
    put(MIXER, "d3-over-3", "changeover", "14:40:00", changeover="boom-2", position="radio", note="Past the crane")
    put(MIXER, "d3-promise-1", "promise", "12:40:00", text="Lines of Okello at the bollard, close", scene="29",
        characters=["Okello"])  # fmt: skip
    for id, clock, seconds, scene, slate, take, mark, note in _THREE:
        put(MIXER, id, "take", clock, **_rolled(clock, int(seconds), scene, slate, take, mark, note))
    # The boom wrote the same roll on the phone.
    put(BOOM, "d3-take-08", "take", "12:34:20", **_rolled("12:34:01", 79, "28A", "210", "1", "", "Slate 210, mine"))
    wild = _rolled("17:10:00", 66, "29", "", "WT1", "wild track", "Okello, close")
    put(MIXER, "d3-take-12", "take", "17:10:00", **wild, promise="d3-promise-1")
    tone = _rolled("18:40:00", 60, "29", "", "RT1", "room tone", "Quay, crane off")
    put(MIXER, "d3-take-14", "take", "18:40:00", **tone)
    put(BOOM, "d3-note-1", "note", "16:32:00", text="Rain cover on Boom 1 from here on", track="Boom 1")
    return lines


def _rolled(clock: str, seconds: int, scene: str, slate: str, take: str, mark: str, note: str) -> dict[str, Any]:
    first = Timecode.parse(f"{clock}:00", RATE)
    return {
        "scene": scene,
        "slate": slate,
        "take": take,
        "kind": mark if mark not in ("", "circled") else "take",
        "circled": mark == "circled",
        "sound_roll": "NF-03",
        "timecode_in": str(first),
        "timecode_out": str(first.plus(seconds * RATE.nominal)),
        "note": note,
    }


# ---- day 4: as it was recorded, but for the mistakes -----------------------------------------------------------------


def day_four(plan: Plan, day: Day = DAY_FOUR) -> Told:
    """The lines of day 4, each with the device that wrote it."""
    packs = {each.wearer: each.id for each in plan.radio.transmitters if each.kind == "body pack"}
    return [*_packs_of(day, packs), *_changes_of(day), *_takes_of(day)]


def _packs_of(day: Day, packs: dict[str, str]) -> Iterator[tuple[str, NewLine]]:
    """Who is wired at each site: put on as a block begins, taken off as one begins without them."""
    on: list[str] = []
    for block in day.blocks:
        if block.site is Site.BREAK:
            for n, pack in enumerate(sorted(packs[who] for who in on if who in packs), 1):
                yield FLOOR, _line(day, f"d4-cell-{n:02d}", "battery", block.start_s + n, item=pack)
            continue
        radios = [who for who in block.radios if who in packs]
        for who in [each for each in on if each not in radios]:
            yield FLOOR, _worn(day, block, packs[who], "")
        for who in radios:
            yield FLOOR, _worn(day, block, packs[who], who)
        on = radios


def _worn(day: Day, block: Block, pack: str, who: str) -> NewLine:
    id = f"d4-{block.site.name.lower()}-{pack}"
    if not who:
        return _line(day, id, "wearing", block.start_s, pack=pack)
    place = _CHAPEL_MIC.get(who, "chest") if block.site is Site.CHAPEL else _DECK_MIC
    return _line(
        day, id, "wearing", block.start_s + 0.5, pack=pack, character=who, mic_place=place, power_mw=_PACKS[block.site]
    )


def _changes_of(day: Day) -> Iterator[tuple[str, NewLine]]:
    """Changeovers, jams, temperatures and promises."""
    sites = {Site.DECK: ("car-deck", 1.5), Site.QUAY: ("quay", -4.0), Site.CHAPEL: ("chapel", 9.0)}
    for n, block in enumerate((each for each in day.blocks if each.site in sites), 1):
        site, degrees = sites[block.site]
        yield FLOOR, _line(day, f"d4-cold-{n}", "temperature", block.start_s + 1, temperature_c=degrees, site=site)
        position = "radio" if block.site is Site.QUAY else "cable"
        yield MIXER, _line(day, f"d4-over-{n}", "changeover", block.start_s + 1, changeover="boom-1", position=position)
    for n, device in enumerate(("slate", "sync-box"), 1):
        yield BOOM, _line(day, f"d4-jam-{n}", "jam", float(n), device=device, source="recorder", timecode=_code(day, n))
    yield BOOM, _line(day, "d4-note-1", "note", 70.0, text="Lighting cable lies along Boom 2", track="Boom 2")
    yield MIXER, _line(day, "d4-promise-1", "promise", 100.0, text="Ferry horn and ropes", scene="32")
    yield MIXER, _line(day, "d4-promise-2", "promise", 270.0, text="The fiddle alone, second verse", scene="36")


def _takes_of(day: Day) -> Iterator[tuple[str, NewLine]]:
    number = 0
    for take in day.takes:
        number += 1
        yield MIXER, _line(day, f"d4-take-{number:02d}", "take", take.start_s, **_written(day, take, number))
        if take.slate == "218":
            number += 1  # called, and never rolled
            never = {"scene": take.scene, "slate": take.slate, "take": "2", "sound_roll": day.sound_roll}
            code = {"timecode_in": _code(day, take.end_s + 3), "timecode_out": _code(day, take.end_s + 6)}
            yield MIXER, _line(day, f"d4-take-{number:02d}", "take", take.end_s + 3, **never, **code)


def _written(day: Day, take: Take, number: int) -> dict[str, Any]:
    """A take as it stands in the log, with what was written wrong."""
    fields: dict[str, Any] = {
        "scene": take.scene,
        "slate": take.slate,
        "take": take.take,
        "kind": take.kind,
        "sound_roll": day.sound_roll,
        "circled": take.circled,
        "timecode_in": _code(day, take.start_s),
        "timecode_out": _code(day, take.end_s),
        "files": [] if take.mono_set else [f"{take.file}.wav"],
        "note": take.note,
    }
    wrong: dict[int, dict[str, Any]] = {
        3: {"timecode_out": _code(day, take.end_s + 10), "track_notes": {"Boom 2": "Hum from the lighting cable"}},
        4: {"promise": "d4-promise-1"},
        6: {"take": "3"},
        7: {"circled": False, "songs": ["harbour-song"]},
        8: {"sound_roll": "NF-03"},
        10: {"timecode_in": _turned(_code(day, take.start_s))},
    }
    return {**fields, **wrong.get(number, {})}


def _turned(code: str) -> str:
    """A label whose minutes somebody heard the wrong way round: 43 for 34."""
    hours, minutes, *rest = code.split(":")
    return ":".join((hours, minutes[::-1], *rest))


def _code(day: Day, seconds: float) -> str:
    """What the recorder showed so long after the day began."""
    return str(Timecode.parse(day.starts_at, RATE).plus(int(seconds * RATE.nominal)))


def _line(day: Day, id: str, kind: str, seconds: float, /, **fields: Any) -> NewLine:
    at = _at(day.date, day.starts_at[:8]) + timedelta(seconds=seconds)
    return NewLine(kind, fields, DAY_4, at, id)


def _at(date: str, clock: str) -> datetime:
    return datetime.fromisoformat(f"{date}T{clock}").replace(tzinfo=HERE)
