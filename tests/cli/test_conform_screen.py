"""What conform says on the screen: the answer first, what was made and where last."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from rollsound.actions.conform_result import CardReport, ConformResult, ConformTake, ConformTrack
from rollsound.cli.app import run
from rollsound.cli.conform import show_conform

LISTS = ("conform list.csv", "conform report.csv", "damaged spans.csv", "conform list.otio")


def track(name: str, action: str, outcome: str = "placed") -> ConformTrack:
    return ConformTrack(index=1, name=name, card=f"card-{name}", outcome=outcome, action=action)


def result(**changes: object) -> ConformResult:
    takes = tuple(
        ConformTake(
            recorder=(f"r/31T{n}.wav",),
            output=(f"m/31T{n}.wav",),
            resumed=(f"m/31T{n}.wav",) if n == 1 else (),
            sample_rate_hz=48_000,
            frames=10,
            start_samples=0,
            tracks=(track("Ane", "replace"), track("Ivo", "keep"), track("Ilse", "keep", "contradicts")),
        )
        for n in (1, 2, 3)
    )
    whole = ConformResult(
        mode="mirror", takes=takes, folder="m", plan="m/conform plan.json", lists=tuple(f"m/{name}" for name in LISTS)
    )
    return whole.model_copy(update=changes)


def screen(shown: ConformResult) -> list[str]:
    console = Console(file=io.StringIO(), width=100, highlight=False, soft_wrap=True)
    show_conform(console, shown)
    return console.file.getvalue().splitlines()  # type: ignore[attr-defined, no-any-return]


def test_what_was_made_stands_last_and_fits_the_screen() -> None:
    lines = screen(result())
    assert lines[-4:] == [
        "In m",
        "  3 mirrors: 31T1.wav to 31T3.wav (1 from an earlier run)",
        "  lists: conform list.csv, conform report.csv, damaged spans.csv, conform list.otio",
        "  plan: conform plan.json",
    ]
    assert max(len(line) for line in lines) <= 100


def test_a_track_that_the_plan_keeps_is_not_called_rebuilt() -> None:
    assert screen(result())[0] == (
        "3 radio tracks in 3 takes rebuilt from cards; 0 damaged spans; 3 tracks refused, with the reason."
    )


def test_a_plan_elsewhere_is_named_whole_and_one_file_alone() -> None:
    mended = result(mode="mend", plan="elsewhere/mine.json", takes=result().takes[1:2], lists=())
    assert screen(mended)[-3:] == ["In m", "  1 mended file: 31T2.wav", "  plan: elsewhere/mine.json"]


def test_a_plan_alone_says_how_to_go_on() -> None:
    takes = tuple(take.model_copy(update={"output": (), "resumed": ()}) for take in result().takes)
    lines = screen(result(takes=takes, lists=(), carried_out=False))
    assert lines[-3:] == ["In m", "  plan: conform plan.json", "Nothing else was written; --plan carries it out."]


def test_help_says_what_happens_when_nothing_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    run(["conform", "--help"])
    said = capsys.readouterr().out
    assert "[default: mirror]" in said
    assert "[default: track]" in said


@pytest.mark.parametrize("width", [60, 80, 100])
def test_the_table_keeps_its_figures_and_names_on_every_width(width: int) -> None:
    placed = track("Ane [b]", "replace").model_copy(
        update={
            "card": "C01",
            "offset_samples": -14_562_964.2,
            "rate_ppm": -33.101,
            "residual_samples": 0.01,
            "confidence": 1.0,
        }
    )
    taken = result().takes[0].model_copy(update={"tracks": (placed, track("Ilse", "keep", "contradicts"))})
    console = Console(file=io.StringIO(), width=width, force_terminal=True, color_system=None, highlight=False)
    show_conform(console, result(takes=(taken,)))
    assert isinstance(console.file, io.StringIO)
    lines = console.file.getvalue().splitlines()
    assert max(len(line) for line in lines) <= width
    text = "\n".join(lines)
    for whole in ("−14,562,964.20", "−33.101", "Ane [b]", "samples", "ppm"):
        assert whole in text
    assert "…" not in text


def test_a_cards_clock_stands_once() -> None:
    card = CardReport(
        name="C03",
        files=("C03_01.wav",),
        stands_for="Runa",
        rate_ppm=-6.614,
        takes=9,
        note="−6.61 ppm over 9 takes, wandering over 1.50 ppm.",
    )
    other = CardReport(name="C13", files=("C13_01.wav",), note="A card of another day: dated 2031-02-17.")
    lines = screen(result(cards=(card, other)))
    assert "  C03 is Runa, clock −6.614 ppm, 9 takes; wandering over 1.50 ppm" in lines
    assert "  C13 stands for no track, 0 takes; a card of another day: dated 2031-02-17" in lines
