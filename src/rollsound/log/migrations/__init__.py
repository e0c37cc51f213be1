"""Every step from one schema of the database to the next, as Alembic scripts in ``versions``."""
