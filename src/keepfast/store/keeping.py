"""Keeping a book: rebuild, backup, restore."""

from __future__ import annotations

import datetime
from pathlib import Path

from sqlalchemy import Engine, update

from keepfast import __version__
from keepfast.store import derived, sqlite
from keepfast.store.tables import DERIVED_FORMAT, meta


def rebuild_with_backup(engine: Engine, path: Path) -> Path:
    """Back the book up beside it, then make its derived tables anew; the backup's path."""
    stamp = datetime.datetime.now(datetime.UTC).strftime("%Y%m%dT%H%M%SZ")
    target = path.with_name(f"{path.name}.before-rebuild-{stamp}")
    sqlite.copy_file(path, target)
    target.chmod(0o600)
    with engine.connect().execution_options(write=True) as connection, connection.begin():
        sqlite.install_triggers(connection)
        derived.rebuild(connection)
        connection.execute(update(meta).where(meta.c.name == "derived format").values(value=str(DERIVED_FORMAT)))
        connection.execute(update(meta).where(meta.c.name == "program").values(value=__version__))
    return target
