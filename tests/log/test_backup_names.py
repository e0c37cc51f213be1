"""A file in the folder of backups whose name tells no date is none of ours."""

from __future__ import annotations

from pathlib import Path

from rollsound.log.backups import backups_of


def test_a_name_without_a_date_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "backups").mkdir()
    for name in ("show-20269999-000000-r1.sqlite", "show-20270309-073000-r2.sqlite"):
        (tmp_path / "backups" / name).write_bytes(b"")
    assert [backup.revision for backup in backups_of(tmp_path / "show.sqlite")] == [2]
