"""Writes the small databases of older schemas, as those versions wrote them. Run once per schema, then kept for good.

python tests/log/data/generate.py
"""

from __future__ import annotations

from pathlib import Path

from rollsound.log.changes import Change, apply
from rollsound.log.document import write_head
from rollsound.log.journal import write_entry
from rollsound.log.keeping import now
from rollsound.log.model import Author, Edit, Head
from rollsound.log.opening import engine_of, writing
from rollsound.log.schema import upgrade
from rollsound.log.tables import SCHEMAS, devices, settings

HERE = Path(__file__).parent
_TABLET = {
    "id": "d-1",
    "token_hash": "0" * 64,
    "name": "tablet",
    "person": "Tarek",
    "person_id": "tarek",
    "role": "crew",
    "joined": "2031-02-14T07:30:00.000000+00:00",
    "seen": "2031-02-14T19:30:00.000000+00:00",
    "revoked": None,
    "at_machine": 0,
    "address": "192.0.2.7",
}


def main() -> None:
    """Write what is not there yet."""
    for schema in SCHEMAS[:-1]:
        path = HERE / f"schema-{schema}.sqlite"
        if not path.exists():
            path.touch()
            _write(path, schema)


def _write(path: Path, schema: str) -> None:
    mina, tarek = Author("Mina", "mina", "laptop"), Author("Tarek", "tarek", "tablet")
    document = {"show": {"title": "Northbound Ferry"}, "people": [{"id": "mina", "name": "Mina"}]}
    edits = [
        Edit(mina, "Made the show", (), {"/people": "who is on board"}, kind="new"),
        Edit(mina, "Title", (Change("/show/title", "Northbound Ferry", "Northbound Ferry, block 2"),), key="k-1"),
        Edit(tarek, "Name", (Change("/people/mina/name", "Mina", "Mina B."),), {"/people": "who sails"}),
        Edit(mina, "Took back: Title", (Change("/show/title", "Northbound Ferry, block 2", "Northbound Ferry"),),
             kind="undo", refers_to=2),
    ]  # fmt: skip
    engine = engine_of(path, read_only=False)
    with writing(engine, path) as connection:
        upgrade(connection, to=schema)
        comments: dict[str, str] = {}
        for number, edit in enumerate(edits, 1):
            document = apply(document, edit.changes)
            comments = comments if edit.comments is None else edit.comments
            write_entry(connection, number, edit, now())
            write_head(connection, Head(number, document, comments), snapshot=number == 1)
        connection.execute(settings.insert(), [{"name": "theme", "value": '"night"'}])
        if schema >= "0002":
            connection.execute(devices.insert(), [_TABLET])
    engine.dispose()


if __name__ == "__main__":
    main()
