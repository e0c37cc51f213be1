"""Which schema a database has, and the way up to the newest one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from rollsound.errors import InputError
from rollsound.log.opening import BytesDamagedError
from rollsound.log.tables import APPLICATION_ID, SCHEMAS

NEWEST = SCHEMAS[-1]
_MIGRATIONS = Path(__file__).parent / "migrations"


def schema_of(connection: Connection, path: Path) -> str:
    """The schema of a show's database.

    Raises
    ------
    InputError
        when it is no show, or one of a newer version
    """
    found = connection.exec_driver_sql("PRAGMA application_id").scalar()
    if found != APPLICATION_ID:
        raise InputError(f"{path} is a database, but not that of a show; name the folder of a show", path=str(path))
    tables = set(connection.exec_driver_sql("SELECT name FROM sqlite_schema WHERE type = 'table'").scalars())
    if "alembic_version" not in tables:
        raise BytesDamagedError("its table of versions is gone")
    rows = list(connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalars())
    if len(rows) != 1:
        raise BytesDamagedError("it does not say which version it has")
    version = str(rows[0])
    if version not in SCHEMAS:
        raise InputError(
            f"{path} was written by a newer version of Rollsound (its schema is {version}, this version knows "
            f"{NEWEST}); install the newer version here too, or bring the plan over as text with 'rollsound export' "
            "there and 'rollsound new --from' here",
            path=str(path),
            schema=version,
        )
    return version


def upgrade(connection: Connection, *, to: str = NEWEST, migrations: Path = _MIGRATIONS) -> None:
    """Run every step up to schema ``to`` inside the transaction at hand: all of them and their records, or nothing."""
    # Only a new or an old show needs these, and they take long to load.
    from alembic.operations import Operations
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(migrations))

    def steps(revision: Any, _context: Any) -> Any:
        return script._upgrade_revs(to, revision)

    context = MigrationContext.configure(connection, opts={"fn": steps, "script": script, "transactional_ddl": True})
    with Operations.context(context):
        context.run_migrations()
    connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
