"""The way from any older schema to the newest: whole or not at all."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from pathlib import Path

import pytest
from aboard import TAREK, titled
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

import rollsound.log.migrations
from rollsound.errors import InputError
from rollsound.log.backups import backups_of, verify
from rollsound.log.daybook import LogBook
from rollsound.log.model import DATABASE
from rollsound.log.opening import engine_of, reading, writing
from rollsound.log.schema import NEWEST, schema_of, upgrade
from rollsound.log.store import Store
from rollsound.log.tables import SCHEMAS, metadata

DATA = Path(__file__).parent / "data"
MIGRATIONS = Path(rollsound.log.migrations.__file__).parent


def test_the_steps_make_the_tables_that_the_code_knows(store: Store, path: Path) -> None:
    engine = engine_of(path, read_only=True)
    with reading(engine, path) as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, metadata) == []
    engine.dispose()


def test_every_schema_is_known_in_order() -> None:
    steps = list(ScriptDirectory(str(MIGRATIONS)).walk_revisions())
    assert tuple(step.revision for step in reversed(steps)) == SCHEMAS
    assert {path.name for path in DATA.glob("*.sqlite")} == {f"schema-{schema}.sqlite" for schema in SCHEMAS[:-1]}


@pytest.fixture(params=SCHEMAS[:-1])
def schema(request: pytest.FixtureRequest) -> str:
    """Every older schema."""
    return str(request.param)


@pytest.fixture
def old(path: Path, schema: str) -> Path:
    """A show as an older schema kept it."""
    shutil.copy(DATA / f"schema-{schema}.sqlite", path)
    return path


def test_an_old_show_opens_with_all_it_had(old: Path, schema: str) -> None:
    with Store.open(old) as store:
        head = store.head()
        assert head.revision == 4
        assert head.document == {"show": {"title": "Northbound Ferry"}, "people": [{"id": "mina", "name": "Mina B."}]}
        assert head.comments == {"/people": "who sails"}
        assert [(e.number, e.kind, e.author.person, e.undone) for e in store.journal()] == [
            (4, "undo", "Mina", False),
            (3, "plan", "Tarek", False),
            (2, "plan", "Mina", True),
            (1, "new", "Mina", False),
        ]
        assert store.at(2)["show"]["title"] == "Northbound Ferry, block 2"
        redoable = store.last_redoable("mina")
        assert redoable is not None
        assert redoable.number == 2
        store.commit(titled(store, "Southbound", author=TAREK))
        store.put("theme", "night")
        assert [device.name for device in store.devices()] == ([] if schema == "0001" else ["tablet"])
        assert store.jobs() == []
        book = LogBook(store)
        assert book.lines() == ()
        assert book.add("note", {"text": "the first of an old show"}, TAREK, "day-4").line.made == 6
        assert store.head().revision == 5


def test_an_old_show_is_backed_up_before_it_is_changed(old: Path, schema: str) -> None:
    Store.open(old).close()
    (backup,) = backups_of(old)
    assert (backup.kind, backup.revision) == ("upgrade", 4)
    assert verify(backup.path) == 4
    with contextlib.closing(sqlite3.connect(backup.path)) as kept:
        assert kept.execute("SELECT version_num FROM alembic_version").fetchall() == [(schema,)]


def test_an_old_show_is_not_changed_for_reading_only(old: Path) -> None:
    before = old.read_bytes()
    with pytest.raises(InputError, match="older version"):
        Store.open(old, read_only=True)
    assert old.read_bytes() == before


def test_a_step_that_fails_midway_leaves_the_schema_before_it(old: Path, schema: str, tmp_path: Path) -> None:
    broken = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, broken)
    (broken / "versions" / "v0004_broken.py").write_text(
        "from alembic import op\nimport sqlalchemy as sa\nrevision = '0004'\ndown_revision = '0003'\n"
        "def upgrade():\n    op.create_table('half', sa.Column('a', sa.Text))\n    raise RuntimeError('midway')\n"
    )
    engine = engine_of(old, read_only=False)
    with pytest.raises(RuntimeError, match="midway"), writing(engine, old) as connection:
        upgrade(connection, to="0004", migrations=broken)
    with reading(engine, old) as connection:
        assert schema_of(connection, old) == schema
        tables = set(connection.exec_driver_sql("SELECT name FROM sqlite_schema").scalars())
        assert not {"half", "lines", *(("devices", "jobs") if schema == "0001" else ())} & tables
    engine.dispose()
    with Store.open(old) as store:
        assert store.head().revision == 4


def test_a_newer_show_is_refused_and_left_alone(store: Store, path: Path) -> None:
    store.close()
    with contextlib.closing(sqlite3.connect(path)) as newer:
        newer.execute("UPDATE alembic_version SET version_num = '0099'")
        newer.commit()
    before = path.read_bytes()
    with pytest.raises(InputError, match=f"newer version of Rollsound.*0099.*{NEWEST}"):
        Store.open(path)
    assert path.read_bytes() == before


def test_each_stored_file_is_of_its_schema(schema: str) -> None:
    with contextlib.closing(sqlite3.connect(f"file:{DATA / f'schema-{schema}.sqlite'}?mode=ro", uri=True)) as kept:
        assert kept.execute("SELECT version_num FROM alembic_version").fetchall() == [(schema,)]
    assert DATABASE.endswith(".sqlite")
