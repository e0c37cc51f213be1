"""What stands on the screen: the answer first, nothing said twice, nothing cut, at every width."""

from __future__ import annotations

import io
import signal
import sys
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

import rollsound.cli
from rollsound.actions.inspect import inspect
from rollsound.actions.recover import recover_files
from rollsound.cli import app, frame
from rollsound.cli.app import run
from rollsound.cli.conform import told_beside_clock
from rollsound.cli.frame import show_finding
from rollsound.cli.inspect import show_inspection
from rollsound.cli.lines import begun, line
from rollsound.cli.recover import show_recovery
from rollsound.finding import Area, Finding, Weight
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, IXml, SampleFormat, WaveWriter

RATE_HZ = 48000


def terminal(width: int) -> Console:
    """A screen of this width whose lines can be read back."""
    return Console(file=io.StringIO(), width=width, force_terminal=True, color_system=None, highlight=False)


def shown(console: Console) -> list[str]:
    """The lines on it."""
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue().splitlines()


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two takes with mutes on two tracks each; one track's name looks like markup, one is long."""
    folder = tmp_path_factory.mktemp("takes")
    rng = np.random.default_rng(3)
    for number in (1, 2):
        sound = (rng.standard_normal((6 * RATE_HZ, 3)) * 0.05).astype(np.float32)
        sound[100_000:110_000, 0] = 0
        sound[150_000:160_000, 1] = 0
        names = ["Ane [b]", "Choir at the harbour, second row, left of the piano", "Boom 1"]
        ixml = IXml.build(scene="31", take=str(number), sound_roll="R4", rate=Rate.parse("25"), tracks=names)
        with WaveWriter(folder / f"31T{number}.wav", AudioFormat(RATE_HZ, 3, SampleFormat.PCM24), ixml=ixml) as writer:
            writer.write(sound)
    return folder


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_wider_than_the_screen_and_no_figure_is_cut(faulty: Path, width: int) -> None:
    console = terminal(width)
    show_inspection(console, inspect([faulty]), tracks=True)
    lines = shown(console)
    assert max(len(text) for text in lines) <= width
    assert not any("…" in text for text in lines)
    assert any("Ane [b]" in text for text in lines)


def test_why_and_remedy_are_said_once_for_each_kind(faulty: Path) -> None:
    console = terminal(120)
    show_inspection(console, inspect([faulty]))
    text = " ".join(" ".join(shown(console)).split())
    assert text.count("One mute of") == 4
    assert text.count("Exact zeros in the middle of sound") == 1
    assert text.count("Mend these spans from the card") == 1
    assert "track 1 (Ane [b]): " not in text  # the sentence names its track itself


def test_of_several_listening_levels_the_lowest_is_told(faulty: Path) -> None:
    result = inspect([faulty])
    first = result.files[0]

    def loud(start_db: float) -> Finding:
        return Finding(
            area=Area.SIGNAL,
            weight=Weight.WATCH,
            subject="track 1",
            kind="radio-hit",
            what="One radio hit on track 1.",
            why=f"Bursts of noise. Start listening at a low level: {-start_db:.0f} dB under your usual level.",
            numbers={"start_listening_db": start_db},
        )

    spoiled = first.model_copy(update={"tracks": (), "findings": (loud(-25.0), loud(-40.0), loud(-30.0))})
    console = terminal(200)
    show_inspection(console, result.model_copy(update={"files": (spoiled,)}))
    told = [text for text in shown(console) if "Bursts of noise" in text]
    assert len(told) == 1
    assert "40 dB under your usual level" in told[0]
    assert "25 dB" not in told[0]


def test_lines_break_between_words_and_hang() -> None:
    console = terminal(60)
    finding = Finding(
        area=Area.SIGNAL,
        weight=Weight.STOP,
        subject="track 10 (Signy)",
        kind="mute",
        what="2 mutes on track 10 (Signy) between 12:40:27:20 and 12:40:32:01; the worst, of 300 ms, at 12:40:32:01.",
        remedy="Make a whole copy with: rollsound recover '/media/drive one/day 4/NF04_S216_T1.wav'",
    )
    show_finding(console, finding)
    lines = shown(console)
    assert lines[0].startswith("  ■ stop   2 mutes")
    assert all(text.startswith(" " * 11) for text in lines[1:])
    assert any("12:40:27:20" in text for text in lines)
    assert any("300 ms" in text for text in lines)
    assert any("rollsound recover '/media/drive one/day 4/NF04_S216_T1.wav'" in text for text in lines)


def test_only_the_head_has_the_heads_style() -> None:
    console = Console(file=io.StringIO(), width=80, force_terminal=True, color_system="standard", highlight=False)
    line(console, "One mute.", head="stop  ", head_style="bold")
    assert shown(console) == ["\x1b[1mstop  \x1b[0mOne mute."]


def test_a_pipe_gets_every_sentence_as_one_line() -> None:
    console = Console(file=io.StringIO(), width=60)
    line(console, "word " * 40)
    assert len(shown(console)) == 1


def test_names_have_no_power_over_the_screen() -> None:
    console = terminal(80)
    line(console, "take\x1b[2J\nnext [red]roll[/red]")
    assert shown(console) == ["take\ufffd[2J\ufffdnext [red]roll[/red]"]


@pytest.mark.parametrize(
    ("arguments", "words", "help_of"),
    [
        (["inspekt"], "did you mean 'inspect'", "rollsound"),
        (["inspect", "--trak"], "--tracks", "rollsound inspect"),
        (["offload"], "needs SOURCE", "rollsound offload"),
        (["offload", "x"], "needs --to", "rollsound offload"),
        (["inspect", "x", "--rate"], "--rate without anything", "rollsound inspect"),
        (["verify", "a", "b"], "no use for 'b'", "rollsound verify"),
        (["demo", "--seed", "x"], "a whole number; 'x'", "rollsound demo"),
        (["conform", "x", "--mode", "foo", "--cards", "x", "--out", "y"], '"mend"', "rollsound conform"),
        (["ltc", "x", "--track", "1", "--track", "2"], "give it once", "rollsound ltc"),
    ],
)
def test_a_mistyped_line_points_to_the_help_that_answers_it(
    arguments: list[str], words: str, help_of: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(arguments) == 2
    said = capsys.readouterr().err.strip()
    assert words in said
    assert said.endswith(f"See '{help_of} --help'.")
    assert "?." not in said


def test_help_lists_commands_in_the_order_of_the_night_without_boxes(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    text = capsys.readouterr().out
    assert [text.index(f"\n {name} ") for name in app.COMMANDS] == sorted(
        text.index(f"\n {name} ") for name in app.COMMANDS
    )
    assert run(["conform", "--help"]) == 0
    text += capsys.readouterr().out
    assert not set("│╭╰") & set(text)
    assert "default: False" not in text
    assert 'default: ""' not in text
    assert "default: mirror" in text


def _interrupted(*_: object, **__: object) -> None:
    raise KeyboardInterrupt


def test_stopped_while_nothing_is_kept_says_so(
    faulty: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("rollsound.cli.inspect.inspect", _interrupted)
    assert run(["inspect", str(faulty)]) == 130
    assert "begins again" in capsys.readouterr().err
    assert run(["inspect", str(faulty), "--index", "i"]) == 130
    assert "what was finished is kept" in capsys.readouterr().err


def test_stopped_while_the_result_is_shown_says_the_work_is_done(
    faulty: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("rollsound.cli.inspect.show_inspection", _interrupted)
    assert run(["inspect", str(faulty)]) == 130
    assert "the work itself was finished" in capsys.readouterr().err


class _LateInterrupt(io.StringIO):
    """An output at whose last flush the person presses Ctrl-C."""

    def flush(self) -> None:
        signal.raise_signal(signal.SIGINT)


def test_ctrl_c_after_the_answer_spoils_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    before = signal.getsignal(signal.SIGINT)
    monkeypatch.setattr(app, "run", lambda _: 1)
    monkeypatch.setattr(sys, "stdout", _LateInterrupt())
    try:
        with pytest.raises(SystemExit) as left:
            app.main()
    finally:
        signal.signal(signal.SIGINT, before)
    assert left.value.code == 1


def test_a_wish_to_stop_that_came_too_late_is_answered(capsys: pytest.CaptureFixture[str]) -> None:
    with frame.progress(as_json=True):
        signal.raise_signal(signal.SIGINT)
    assert "finished before it could stop" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("note", "told"),
    [
        ("+3.70 ppm over 6 takes.", ""),
        ("−14.20 ppm over 3 takes; 31T1 does not fit.", "31T1 does not fit"),
        ("-6.61 ppm over 9 takes, wandering over 1.50 ppm.", "wandering over 1.50 ppm"),
        ("A card of another day: dated 2031-02-17.", "A card of another day: dated 2031-02-17."),
    ],
)
def test_a_clock_is_told_once(note: str, told: str) -> None:
    assert told_beside_clock(note) == told


@pytest.mark.parametrize(
    ("sentence", "given", "shown"),
    [
        ("no audio file lies in day4; name a folder", (), "No audio file lies in day4; name a folder"),
        ("the plan's mode is mend", (), "The plan's mode is mend"),
        ("gone is not there; check the name", ("inspect", "gone"), "gone is not there; check the name"),
        ("out holds other things", ("conform", "--out=out"), "out holds other things"),
        ("day4/recorder is not there", (), "day4/recorder is not there"),
        ("take.wav is empty", (), "take.wav is empty"),
        ("card7 is not there", (), "card7 is not there"),
        ("'26.5' is no rate", (), "'26.5' is no rate"),
        ("gain_db is 3 where action is keep", (), "gain_db is 3 where action is keep"),
        ("", (), ""),
    ],
)
def test_a_sentence_begins_with_a_capital_unless_it_begins_with_a_name(
    sentence: str, given: tuple[str, ...], shown: str
) -> None:
    assert begun(sentence, given) == shown


def test_an_error_begins_with_a_capital_and_keeps_names_as_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    assert run(["inspect", "empty"]) == 2
    assert capsys.readouterr().err.startswith("No audio file lies in empty")
    assert run(["inspect", "gone"]) == 2
    assert capsys.readouterr().err.startswith("gone is not there")


def test_recover_answers_first_and_says_what_was_assumed(faulty: Path, tmp_path: Path) -> None:
    whole = faulty / "31T1.wav"
    broken = tmp_path / "31T9 [b].wav"
    broken.write_bytes(whole.read_bytes()[:-120_000])
    console = terminal(80)
    show_recovery(console, recover_files([whole, broken], out=tmp_path / "out"))
    lines = shown(console)
    assert lines[0] == "2 files looked at: 1 recovered, 1 whole, nothing to do."
    assert lines[1] == "31T1.wav: whole, 288,000 frames of sound"
    assert lines[2].startswith("31T9 [b].wav: recovered, 274,")
    text = " ".join(" ".join(lines).split())
    assert "ends after 2,472,000; the last 120,000 bytes" in text
    assert lines[-1] == f"    {tmp_path / 'out' / broken.name}"


class _StoppedWhileLoading:
    """Ctrl-C arrives while the commands are still being loaded."""

    def find_spec(self, name: str, *_: object) -> None:
        if name == "rollsound.cli.app":
            raise KeyboardInterrupt


def test_ctrl_c_while_loading_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delitem(sys.modules, "rollsound.cli.app")
    monkeypatch.setattr(sys, "meta_path", [_StoppedWhileLoading(), *sys.meta_path])
    with pytest.raises(SystemExit) as left:
        rollsound.cli.main()
    assert left.value.code == 130
    assert capsys.readouterr().err == "Stopped as you asked; nothing had begun.\n"
