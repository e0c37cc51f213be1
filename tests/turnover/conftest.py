"""A day's material in the invented scenario, without sound: what reports and folders are made from."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.turnover import DayMaterial, Rebuilt, Take, Track

TRACKS = ("Mix", "Boom 1", "Boom 2", "Odile", "Łucja", "Șerban")


def finding(weight: Weight, what: str, clock: str = "") -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=weight,
        subject="a take",
        kind="test",
        what=what,
        why="Measured.",
        remedy="Use the card.",
        source="common practice, no source",
        refs=(Ref(path="x", timecode=clock),),
    )


@pytest.fixture
def day(tmp_path: Path) -> Callable[..., DayMaterial]:
    """Make a day of so many takes with real (small) files; the last two are a wild track and a room tone."""

    def make(count: int = 6, note: str = "") -> DayMaterial:
        recorder, cards = tmp_path / "recorder", tmp_path / "cards"
        recorder.mkdir(exist_ok=True)
        cards.mkdir(exist_ok=True)
        takes = []
        for n in range(count):
            file = recorder / f"31A-{n + 1:03d}.wav"
            if not file.exists():
                file.write_bytes(bytes([n % 256]) * 1000)
            kind = {count - 2: "wild track", count - 1: "room tone"}.get(n, "take") if count > 2 else "take"
            rebuilt: tuple[Rebuilt, ...] = ()
            if n == 0:
                mirror = cards / "31A-001 Odile.wav"
                if not mirror.exists():
                    mirror.write_bytes(b"mirror")
                rebuilt = (
                    Rebuilt(track="Odile", card="ODILE_07", text="The whole take, +2.113 ppm.", file=mirror),
                    Rebuilt(track="Łucja", kind="not covered", card="LUCJA_01", text="The card had stopped."),
                )
            takes.append(
                Take(
                    files=(file,),
                    scene="31A",
                    slate=str(112 + n // 3),
                    take=str(n % 3 + 1),
                    sound_roll="NBF-D04",
                    circled=n == 1,
                    kind=kind,
                    note=note if n == 0 else "",
                    timecode_in=f"{10 + n // 60:02d}:{n % 60:02d}:00:00",
                    timecode_out=f"{10 + n // 60:02d}:{n % 60:02d}:45:12",
                    frame_rate="25",
                    frames=48_000 * 45,
                    sample_format="24-bit",
                    tracks=tuple(Track(index=i, name=name) for i, name in enumerate(TRACKS, 1)),
                    findings=(finding(Weight.STOP, "Odile falls silent.", "10:00:12:05"),) if n == 0 else (),
                    rebuilt=rebuilt,
                )
            )
        lists = tmp_path / "conform.json"
        lists.write_text("{}")
        return DayMaterial(
            show="Northbound Ferry",
            day="Day 4",
            date="Tue 9 March",
            mixer="Maren Aalto",
            takes=tuple(takes),
            checks=(finding(Weight.FINE, "Every file opens."),),
            lists=(lists,),
        )

    return make
