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

HERE = Path(__file__).parent


def main() -> None:
    """Write what is not there yet."""
    path = HERE / "schema-0001.sqlite"
    if path.exists():
        return
    path.touch()
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
        upgrade(connection, to="0001")
        comments: dict[str, str] = {}
        for number, edit in enumerate(edits, 1):
            document = apply(document, edit.changes)
            comments = comments if edit.comments is None else edit.comments
            write_entry(connection, number, edit, now())
            write_head(connection, Head(number, document, comments), snapshot=number == 1)
    engine.dispose()


if __name__ == "__main__":
    main()
