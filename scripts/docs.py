"""Write the parts of the documentation that come from the code: the commands and the JSON they print.

And the tables of radio that they reckon with. `make docs` writes docs/commands.md, docs/json.md and
docs/radio-tables.md; a test fails when one is stale and names this command.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from rollsound.cli.app import COMMANDS, SUBCOMMANDS, run
from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.radio.tables import SUBJECTS

DOCS = Path(__file__).parents[1] / "docs"
RESULTS = {
    "new": ("rollsound.actions.show_model", "NewResult"),
    "export": ("rollsound.actions.show_model", "ExportResult"),
    "import": ("rollsound.actions.show_model", "EditResult"),
    "history": ("rollsound.actions.show_model", "HistoryResult"),
    "undo": ("rollsound.actions.show_model", "EditResult"),
    "redo": ("rollsound.actions.show_model", "EditResult"),
    "backup": ("rollsound.actions.show_model", "BackupResult"),
    "restore": ("rollsound.actions.show_model", "RestoreResult"),
    "offload": ("rollsound.actions.offload", "OffloadResult"),
    "inspect": ("rollsound.actions.inspect", "InspectResult"),
    "recover": ("rollsound.actions.recover", "RecoverResult"),
    "conform": ("rollsound.actions.conform_result", "ConformResult"),
    "turnover": ("rollsound.actions.turnover", "TurnoverResult"),
    "verify": ("rollsound.actions.verify", "VerifyResult"),
    "ltc": ("rollsound.actions.ltc", "LtcResult"),
    "serve": ("rollsound.cli.serve", "ServeResult"),
    "demo": ("rollsound.demo.night", "NightResult"),
    "survey": ("rollsound.actions.survey_model", "PlaceSurvey"),
    "rig": ("rollsound.actions.rig_model", "RigResult"),
    "changeovers": ("rollsound.actions.rig_model", "ChangeoversResult"),
    "fallout": ("rollsound.actions.rig_model", "FalloutResult"),
    "kit": ("rollsound.actions.kit_model", "KitResult"),
    "power": ("rollsound.actions.power_model", "PowerResult"),
    "script": ("rollsound.actions.script_model", "ScriptResult"),
    "guide": ("rollsound.actions.guide_model", "GuideResult"),
    "songmap": ("rollsound.actions.song_model", "SongMapResult"),
    "jams": ("rollsound.actions.jams_model", "JamsResult"),
    "packs": ("rollsound.actions.packs_model", "PacksResult"),
    "crosscheck": ("rollsound.actions.crosscheck_model", "CrosscheckResult"),
    "callsheet": ("rollsound.actions.callsheet_model", "CallsheetResult"),
    "log list": ("rollsound.actions.daylog_model", "LogListed"),
    "log now": ("rollsound.actions.daylog_model", "LogNow"),
    "log add": ("rollsound.actions.daylog_model", "LogWritten"),
    "log export": ("rollsound.actions.daylog_model", "LogExported"),
    "radio plan": ("rollsound.actions.radio_model", "PlanResult"),
    "radio check": ("rollsound.actions.radio_model", "CheckResult"),
    "radio spare": ("rollsound.actions.radio_model", "SpareResult"),
    "radio reach": ("rollsound.actions.reach_model", "ReachResult"),
    "radio walk": ("rollsound.actions.reach_model", "WalkResult"),
    "radio scan": ("rollsound.actions.radio_model", "ScanResult"),
}


def model_of(command: str) -> type[BaseModel]:
    """The model of what a command prints with --json; of a group that of its first command."""
    first = f"{command} {next(iter(SUBCOMMANDS[command]))}" if command in SUBCOMMANDS else command
    module, name = RESULTS[first]
    found: type[BaseModel] = getattr(import_module(module), name)
    return found


def commands_page() -> str:
    """Every command's --help."""
    os.environ["COLUMNS"] = "100"
    parts = ["# Commands\n\nMade by `make docs` from the commands' own help.\n"]
    inner = [f"{group} {name}" for group, names in SUBCOMMANDS.items() for name in names]
    for command in ("", *COMMANDS, *inner):
        text = io.StringIO()
        with contextlib.redirect_stdout(text):
            run([*command.split(), "--help"])
        lines = "\n".join(line.rstrip() for line in text.getvalue().strip().splitlines())
        parts.append(f"\n## rollsound {command}".rstrip() + f"\n\n```\n{lines}\n```\n")
    return "".join(parts)


def json_page() -> str:
    """What every command prints with --json, field by field."""
    parts = [
        "# What `--json` prints\n\nMade by `make docs` from the models. Levels of silence and figures that do not "
        'exist are `null`. A failure prints `{"error": {"kind", "sentence", "detail"}}` and exits 2.\n'
    ]
    for command in RESULTS:
        model = model_of(command)
        schema = model.model_json_schema(mode="serialization")
        parts.append(f"\n## {command}: {model.__name__}\n\n{(model.__doc__ or '').strip().splitlines()[0]}\n")
        parts.append(_table(schema))
        for name, part in schema.get("$defs", {}).items():
            if part.get("properties"):
                parts.append(f"\n### {name}\n\n{str(part.get('description', '')).splitlines()[0]}\n" + _table(part))
            elif "enum" in part:
                parts.append(f"\n### {name}\n\nOne of: {', '.join(f'`{value}`' for value in part['enum'])}\n")
    return "".join(parts)


def _table(schema: dict[str, Any]) -> str:
    rows = ["\n| field | type | meaning |\n|---|---|---|\n"]
    for name, part in schema.get("properties", {}).items():
        rows.append(f"| `{name}` | {_kind(part)} | {part.get('description', '')} |\n")
    return "".join(rows)


def _kind(part: dict[str, Any]) -> str:
    if "$ref" in part:
        return str(part["$ref"]).rsplit("/", 1)[-1]
    if "anyOf" in part:
        return " or ".join(_kind(each) for each in part["anyOf"])
    if part.get("type") == "array":
        return f"list of {_kind(part.get('items', {}))}" if "items" in part else "list"
    if part.get("type") == "object" and isinstance(part.get("additionalProperties"), dict):
        return f"map to {_kind(part['additionalProperties'])}"
    return str(part.get("type", json.dumps(part) if part else "anything"))


def radio_tables_page() -> str:
    """What a reader of the tables of radio must be told, and where every row of them comes from."""
    parts = [
        "# The tables of radio\n\nMade by `make docs` from the tables in the package. Rows of your own in the plan go "
        "before these. **Opened** rows were read in the source named; the others were not, and say so. A band listed "
        "is no permission: check your licence and local rules.\n"
    ]
    for subject, file in SUBJECTS.items():
        notes = "".join(f"- {note}\n" for note in notes_of(file))
        parts.append(f"\n## {subject[0].upper()}{subject[1:]}\n\n{notes}")
        rows = list(_sourced(table(file)))
        if rows:
            parts.append("\n| row | source | status |\n|---|---|---|\n")
            parts += [f"| {name} | {source} | {status} |\n" for name, source, status in rows]
    return "".join(parts)


def _sourced(part: dict[str, Any], path: str = "") -> Iterator[tuple[str, str, str]]:
    """Every row of a table that names its source, however deep it lies."""
    name = " ".join(filter(None, [path, str(part.get("id", ""))]))
    if "source" in part and "status" in part:
        edition = f", {part['edition']}" if part.get("edition") else ""
        yield name, f"{part['source']}{edition}".replace("|", "/"), str(part["status"])
    for key, value in part.items():
        if key == "about":
            continue
        rows = value if isinstance(value, list) else [value]
        for row in rows:
            if isinstance(row, dict):
                yield from _sourced(row, name if row.get("id") else " ".join(filter(None, [name, key])))


PAGES = {"commands.md": commands_page, "json.md": json_page, "radio-tables.md": radio_tables_page}


def main() -> None:
    """Write every page."""
    for name, make in PAGES.items():
        (DOCS / name).write_text(make(), encoding="utf-8")
        print(f"docs/{name}")


if __name__ == "__main__":
    main()
