"""The door: finds the command, and turns every way of failing into one sentence and an exit code."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sys
import tempfile
import traceback
from datetime import datetime
from importlib import import_module
from keyword import iskeyword
from pathlib import Path
from typing import Any

import cyclopts
from cyclopts.help import DefaultFormatter, PanelSpec
from rich.box import Box

import rollsound
from rollsound.cli import frame
from rollsound.cli.frame import nobody_reads, say
from rollsound.cli.lines import begun
from rollsound.cli.mistyped import words_of
from rollsound.errors import Halted, RollsoundError, storage_error

COMMANDS = {
    "new": "Begin a show in a folder.",
    "serve": "Open a show in the browser, and on every device of the crew.",
    "export": "Write the whole plan as one readable text.",
    "import": "Take over a whole plan from a text.",
    "history": "Tell who changed what and when.",
    "undo": "Take back your last edit.",
    "redo": "Make the edit again that you took back.",
    "backup": "Copy a show's plan and history, and prove the copy.",
    "restore": "Go back to a backup; what was is moved aside.",
    "demo": "Build an invented day and run the whole night's work on it.",
    "offload": "Copy a card or drive to several places, proven by reading back.",
    "inspect": "Measure every track and say what is wrong, where, and what to do.",
    "recover": "Make whole copies of files that lost power.",
    "conform": "Rebuild radio tracks from the transmitters' own recordings.",
    "turnover": "Make the folder for sound post, with reports and manifest.",
    "verify": "Prove a received folder, anywhere, offline.",
    "ltc": "Read the linear time code on a track.",
    "survey": "Tell how a site sounds: its noise, its reverberation, and how far a boom may go.",
    "radio": "Plan carriers, check them, and know where a radio path reaches.",
    "rig": "Prove that everything reaches its place, in every combination.",
    "changeovers": "Tell what every planned switch asks of hands, and what it costs.",
    "fallout": "Tell what is lost when one thing fails, and the cheapest cure.",
    "kit": "Tell what the kit weighs, which batteries may fly, and what customs want.",
    "power": "Tell how long every battery lasts, when it is changed, and what wires bear.",
    "script": "Break a script down for sound, and tell what a revision changes.",
    "guide": "Tell how early or late live voices are against guide or click.",
    "packs": "Tell who wears which pack, scene by scene, and every re-rig.",
    "songmap": "Tell which part of every song is on which take, and what is missing.",
    "log": "Keep the day as it happens: takes, packs, batteries, jams and notes.",
    "jams": "Tell how far every time code device drifts, and when to jam it again.",
    "crosscheck": "Hold a day's log against its files and the plan.",
    "callsheet": "Put a day of the sound crew on one sheet.",
}
SUBCOMMANDS = {
    "radio": {
        "plan": "Find a frequency for every transmitter.",
        "check": "Check the frequencies that are there.",
        "spare": "Find spare frequencies, clear of all the rest.",
        "reach": "Tell where on a site every transmitter is heard, and what power that takes.",
        "walk": "Fit the reach of a site to the readings of a walk test.",
        "scan": "Read a scan, and tell whose carrier lies on what is in use.",
    },
    "log": {
        "list": "List the log of a day, and what is odd in it.",
        "now": "Tell who wears what, how batteries and changeovers stand, and the next slate.",
        "add": "Write a line into the log.",
        "edit": "Change fields of a line.",
        "remove": "Take a line out; the history keeps it.",
        "undo": "Take back your last act in the log.",
        "redo": "Do again what you took back.",
        "export": "Write the log as CSV, JSON or PDF.",
    },
}
"""Of commands that are groups."""
EXIT_FINE = 0
EXIT_FINDINGS = 1
EXIT_INPUT = 2
EXIT_FAULT = 3
EXIT_HALTED = 130

_KEEPS_WORK = frozenset({"demo", "offload", "recover", "conform", "turnover"})
_RULED = Box("────\n" + "    \n" * 7)  # a rule above each list, and no box around it


def _build(asked: str = "", following: str = "") -> cyclopts.App:
    """The commands. Each is imported only when asked for; the others are listed by their summary."""
    app = cyclopts.App(
        name="rollsound",
        version=rollsound.__version__,
        help="The engineering bench of the production sound mixer.\n\n"
        "Exit codes: 0 all holds, 1 a finding would stop the work, 2 something given cannot be used, 130 stopped.",
        suppress_keyboard_interrupt=False,  # it would leave as a success
        **_style(),
    )
    for place, (name, summary) in enumerate(COMMANDS.items()):
        if name in SUBCOMMANDS:
            app.command(_group(name, summary, following if name == asked else None, place))
            continue
        told = None if name == asked else summary
        app.command(f"{_module(name)}:{name}_command", name=name, help=told, sort_key=place)
    return app


def _style() -> dict[str, Any]:
    """How help stands on the screen: lists under a rule, in plain words."""
    return {
        "help_format": "plaintext",
        "help_formatter": DefaultFormatter(panel_spec=PanelSpec(box=_RULED, padding=(0, 0))),
        "default_parameter": cyclopts.Parameter(show_default=_default),
        "group_parameters": cyclopts.Group.create_default_parameters("Options"),
    }


def _group(name: str, summary: str, asked: str | None, place: int) -> cyclopts.App:
    """A command with commands of its own; none of them is imported unless it is asked for."""
    first = next(iter(SUBCOMMANDS[name]))
    example = f"Example: rollsound {name} {first} show/\n\nEach prints its result as JSON with --json."
    told = f"{summary}\n\n{example}" if asked is not None else summary
    group = cyclopts.App(name=name, help=told, sort_key=place, **_style())
    for at, (sub, told) in enumerate(SUBCOMMANDS[name].items()):
        path = f"rollsound.cli.{name}_{sub}:{sub}_command"
        group.command(path, name=sub, help=None if sub == asked else told, sort_key=at)
    return group


def _default(value: Any) -> Any:
    """A default worth a word; that something is off or empty when left out goes without saying."""
    return None if value is None or value is False or value == "" else value


def _module(name: str) -> str:
    """The module of a command; a word of the language's own has a stroke behind it."""
    return f"rollsound.cli.{name}{'_' if iskeyword(name) else ''}"


def run(arguments: list[str]) -> int:
    """Run one command line and return its exit code; nothing but an exit code and words leaves here."""
    as_json = "--json" in arguments
    frame.work_done.clear()
    try:
        app = _build(*arguments[:2])
        result = app(arguments, exit_on_error=False, print_error=False, result_action="return_value")
    except (Halted, KeyboardInterrupt):
        return _fail(_halted(arguments), EXIT_HALTED, as_json, "Halted", {})
    except RollsoundError as error:
        return _fail(begun(error.sentence, arguments), error.exit_code, as_json, type(error).__name__, error.detail)
    except cyclopts.CycloptsError as error:
        return _fail(words_of(error, arguments, list(COMMANDS), SUBCOMMANDS), EXIT_INPUT, as_json, "InputError", {})
    except (BrokenPipeError, SystemExit):
        # the reader of the help went away (`| head`); rich leaves in the second way
        nobody_reads()
        return EXIT_FINE
    except OSError as error:
        failed = storage_error(error, error.filename or "the output of this command")
        return _fail(begun(failed.sentence, arguments), failed.exit_code, as_json, type(failed).__name__, failed.detail)
    except Exception:
        return _fail(_save_fault(arguments), EXIT_FAULT, as_json, "Fault", {})
    return result if isinstance(result, int) else EXIT_FINE


def main() -> None:
    """Entry point of ``rollsound``."""
    # Whoever started us may have closed these; what is written then goes nowhere and harms nothing.
    sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    code = run(sys.argv[1:])
    with contextlib.suppress(ValueError):  # from here on there is nothing left to stop, only an answer to spoil
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        nobody_reads()
    except OSError as error:
        code = _fail(begun(storage_error(error, "the output of this command").sentence), EXIT_INPUT, False, "", {})
        nobody_reads()
    sys.exit(code)


def command_module(name: str) -> object:
    """The module of one command (for tests and documentation)."""
    return import_module(_module(name))


def _halted(arguments: list[str]) -> str:
    if frame.work_done.is_set():
        return "Stopped while the result was being shown; the work itself was finished."
    command = arguments[0] if arguments else ""
    if command in _KEEPS_WORK or (command == "inspect" and "--index" in arguments):
        return "Stopped as you asked; what was finished is kept, and the same command goes on from there."
    return "Stopped as you asked; there is no answer yet, and the same command begins again."


def _fail(sentence: str, code: int, as_json: bool, kind: str, detail: dict[str, object]) -> int:
    if as_json:
        plain = {key: value if isinstance(value, int | float | str) else str(value) for key, value in detail.items()}
        text = json.dumps({"error": {"kind": kind, "sentence": sentence, "detail": plain}}, indent=2)
        with contextlib.suppress(OSError):
            print(text)
    with contextlib.suppress(OSError):
        say(sentence)
    return code


def _save_fault(arguments: list[str]) -> str:
    stamp = datetime.now().strftime("%Y%m%d-%H%M%S")
    try:
        path = Path(tempfile.gettempdir()) / f"rollsound-fault-{stamp}-{os.getpid()}.txt"
        text = f"rollsound {rollsound.__version__}\narguments: {arguments}\n\n{traceback.format_exc()}"
        path.write_text(text, encoding="utf-8")
    except OSError:
        traceback.print_exc()
        return "Something went wrong inside Rollsound that is not your mistake; its report is printed above."
    return (
        f"Something went wrong inside Rollsound that is not your mistake; its report is in {path}. "
        "No source file was changed; please send the report with the command you ran."
    )
