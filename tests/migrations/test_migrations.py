"""Schema changes on both databases: up, down, unchanged rows, a backup first, a newer schema refused."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlmodel import SQLModel

import webapp.models  # noqa: F401  (fills the metadata)
from migrations import FULL_TEXT, ours
from webapp import db


def revisions() -> list[str]:
    """All revisions, oldest first."""
    known = ScriptDirectory.from_config(db.alembic_config(""))
    return [script.revision for script in reversed(list(known.walk_revisions()))]


def tables(url: str) -> set[str]:
    engine = db.make_engine(url)
    try:
        names = set(sa.inspect(engine).get_table_names()) - {"alembic_version"}
        return {name for name in names if not name.startswith(FULL_TEXT)}
    finally:
        engine.dispose()


def test_the_migrated_schema_is_that_of_the_models(migrated_database_url: str) -> None:
    engine = db.make_engine(migrated_database_url)
    with engine.connect() as connection:
        differences = compare_metadata(
            MigrationContext.configure(connection, opts={"include_object": ours}), SQLModel.metadata
        )
    engine.dispose()
    assert differences == []


def test_every_step_goes_up_and_down_again(database_url: str) -> None:
    config = db.alembic_config(database_url)
    for revision in revisions():
        command.upgrade(config, revision)
        command.downgrade(config, "-1")
        command.upgrade(config, revision)
    assert tables(database_url) == set(SQLModel.metadata.tables)
    command.downgrade(config, "base")
    assert tables(database_url) == set()


def test_migrating_twice_changes_nothing(database_url: str) -> None:
    assert db.migrate(database_url) is True
    assert db.migrate(database_url) is False
    assert db.schema_revision(database_url) == revisions()[-1]


def test_a_newer_schema_is_refused_and_left_alone(migrated_database_url: str) -> None:
    engine = db.make_engine(migrated_database_url)
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    with pytest.raises(db.SchemaTooNew, match="9999"):
        db.migrate(migrated_database_url)
    assert db.schema_revision(migrated_database_url) == "9999"


def test_a_sqlite_file_is_copied_before_it_is_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "shop.sqlite3"
    url = f"sqlite:///{path}"
    db.migrate(url)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("INSERT INTO drill (diameter, label) VALUES (7.5, 'kept')")
        connection.execute("CREATE TABLE something_older (id INTEGER)")
        connection.commit()
    monkeypatch.setattr(db.ScriptDirectory, "get_current_head", lambda _self: "0002")
    upgraded: list[str] = []
    monkeypatch.setattr(db.command, "upgrade", lambda _config, revision: upgraded.append(revision))
    assert db.migrate(url) is True
    assert upgraded == ["head"]
    [copy] = (tmp_path / "backups").iterdir()
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT label FROM drill").fetchall() == [("kept",)]


def test_a_copy_of_a_database_in_use_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "shop.sqlite3"
    db.migrate(f"sqlite:///{path}")
    with closing(sqlite3.connect(path)) as writing:
        writing.execute("INSERT INTO drill (diameter, label) VALUES (5, 'written down')")
        writing.commit()
        writing.execute("BEGIN IMMEDIATE")
        writing.execute("INSERT INTO drill (diameter, label) VALUES (6, 'not yet')")
        db.copy_sqlite(path, tmp_path / "copy.sqlite3")
        writing.rollback()
    with closing(sqlite3.connect(tmp_path / "copy.sqlite3")) as copy:
        assert copy.execute("SELECT label FROM drill").fetchall() == [("written down",)]
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
