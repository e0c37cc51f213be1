"""The door: finds the command, and turns every way of failing into one sentence and an exit code."""

from __future__ import annotations

import json
import os
import sys
import tempfile
import traceback
from datetime import datetime
from importlib import import_module
from pathlib import Path

import cyclopts

import rollsound
from rollsound.cli.frame import say
from rollsound.errors import Halted, RollsoundError

COMMANDS = {
    "demo": "Build an invented day and run the whole night's work on it.",
    "offload": "Copy a card or drive to several places, proven by reading back.",
    "inspect": "Measure every track and say what is wrong, where, and what to do.",
    "recover": "Make whole copies of files that lost power.",
    "conform": "Rebuild radio tracks from the transmitters' own recordings.",
    "turnover": "Make the folder for sound post, with reports and manifest.",
    "verify": "Prove a received folder, anywhere, offline.",
    "ltc": "Read the linear time code on a track.",
}
EXIT_FINE = 0
EXIT_FINDINGS = 1
EXIT_INPUT = 2
EXIT_FAULT = 3
EXIT_HALTED = 130


def _build(asked: str) -> cyclopts.App:
    """The commands. Each is imported only when asked for; the others are listed by their summary."""
    app = cyclopts.App(
        name="rollsound",
        version=rollsound.__version__,
        help="The engineering bench of the production sound mixer.\n\n"
        "Exit codes: 0 all holds, 1 a finding would stop the work, 2 something given cannot be used, 130 stopped.",
        help_format="plaintext",
    )
    for name, summary in COMMANDS.items():
        app.command(f"rollsound.cli.{name}:{name}_command", name=name, help=None if name == asked else summary)
    return app


def run(arguments: list[str]) -> int:
    """Run one command line and return its exit code; nothing but an exit code and words leaves here."""
    as_json = "--json" in arguments
    try:
        app = _build(arguments[0] if arguments else "")
        result = app(arguments, exit_on_error=False, print_error=False, result_action="return_value")
    except RollsoundError as error:
        return _fail(error.sentence, error.exit_code, as_json, type(error).__name__, error.detail)
    except cyclopts.CycloptsError as error:
        return _fail(_words_of(error), EXIT_INPUT, as_json, "InputError", {})
    except KeyboardInterrupt:
        return _fail(str(_halted()), EXIT_HALTED, as_json, "Halted", {})
    except BrokenPipeError:
        # the reader of our output went away (`| head`): nothing to tell anybody
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_FINE
    except Exception:
        return _fail(_save_fault(arguments), EXIT_FAULT, as_json, "Fault", {})
    return result if isinstance(result, int) else EXIT_FINE


def main() -> None:
    """Entry point of ``rollsound``."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    sys.exit(run(sys.argv[1:]))


def command_module(name: str) -> object:
    """The module of one command (for tests and documentation)."""
    return import_module(f"rollsound.cli.{name}")


def _halted() -> Halted:
    return Halted("Stopped as you asked; what was finished is kept, and the same command goes on from there.")


def _words_of(error: cyclopts.CycloptsError) -> str:
    words = " ".join(str(error).split())
    return f"{words.rstrip('.')}. See 'rollsound --help'."


def _fail(sentence: str, code: int, as_json: bool, kind: str, detail: dict[str, object]) -> int:
    if as_json:
        plain = {key: value if isinstance(value, int | float | str) else str(value) for key, value in detail.items()}
        print(
            json.dumps({"error": {"kind": kind, "sentence": sentence, "detail": plain}}, ensure_ascii=False, indent=2)
        )
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
