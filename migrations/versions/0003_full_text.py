"""full-text search, by each database's own means, with rows for what is there already."""

from alembic import op

from webapp.models.search.searching import index_all

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

# The words come folded and parted already (webapp/models/search): neither database shall do anything to them.
SQLITE = [
    """CREATE VIRTUAL TABLE search_words USING fts5(
        words, content='search_row', content_rowid='id', tokenize="unicode61 remove_diacritics 0 tokenchars '#'",
        prefix='2 3 4 5 6 7 8', detail='none', columnsize=0)""",
    """CREATE TRIGGER search_row_added AFTER INSERT ON search_row BEGIN
        INSERT INTO search_words (rowid, words) VALUES (new.id, new.words); END""",
    """CREATE TRIGGER search_row_gone AFTER DELETE ON search_row BEGIN
        INSERT INTO search_words (search_words, rowid, words) VALUES ('delete', old.id, old.words); END""",
    """CREATE TRIGGER search_row_changed AFTER UPDATE ON search_row BEGIN
        INSERT INTO search_words (search_words, rowid, words) VALUES ('delete', old.id, old.words);
        INSERT INTO search_words (rowid, words) VALUES (new.id, new.words); END""",
]
# Without a list of rows that are still to be sorted in: every search would walk it, and the planner fears it.
POSTGRESQL = (
    "CREATE INDEX search_words ON search_row USING gin (array_to_tsvector(string_to_array(words, ' ')))"
    " WITH (fastupdate = off)"
)


def upgrade() -> None:
    connection = op.get_bind()
    for statement in [POSTGRESQL] if connection.dialect.name == "postgresql" else SQLITE:
        connection.exec_driver_sql(statement)
    # Asks only for columns that were there at 0002.
    index_all(connection)


def downgrade() -> None:
    connection = op.get_bind()
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("DROP INDEX search_words")
    else:
        for name in ("added", "gone", "changed"):
            connection.exec_driver_sql(f"DROP TRIGGER search_row_{name}")
        connection.exec_driver_sql("DROP TABLE search_words")
    connection.exec_driver_sql("DELETE FROM search_row")
