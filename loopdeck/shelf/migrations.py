"""The shelf's tables, version by version. ``PRAGMA user_version`` says which version a file is;
each step leads to the next one.

A step that has been released is never changed: what a later version needs is a step of its own.
"""

import sqlite3

STEPS: tuple[str, ...] = (
    # 1: takes and tags.
    """
    CREATE TABLE take (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        name TEXT NOT NULL,
        kept_at TEXT NOT NULL,
        origin TEXT NOT NULL,
        rating INTEGER NOT NULL DEFAULT 0 CHECK (rating BETWEEN 0 AND 5),
        note TEXT NOT NULL DEFAULT '',
        passes INTEGER NOT NULL,
        end_sec REAL NOT NULL,
        brief TEXT NOT NULL,
        scale TEXT NOT NULL,
        cycle TEXT NOT NULL,
        qpm REAL NOT NULL,
        tempo_map TEXT NOT NULL,
        meters TEXT NOT NULL,
        events BLOB NOT NULL,
        layers BLOB NOT NULL
    );
    CREATE TABLE tag (
        take INTEGER NOT NULL REFERENCES take (number) ON DELETE CASCADE,
        word TEXT NOT NULL,
        PRIMARY KEY (take, word)
    );
    """,
    # 2: a bin, from which takes come back; the latency taken off each input; the key signature of
    # imported files.
    """
    ALTER TABLE take ADD COLUMN binned_at TEXT;
    ALTER TABLE take ADD COLUMN late TEXT NOT NULL DEFAULT '[]';
    ALTER TABLE take ADD COLUMN signature TEXT NOT NULL DEFAULT 'null';
    """,
    # 3: how loud each part sounded; which keep of which session a take is of, so that none is put
    # here twice; what of its run came before.
    """
    ALTER TABLE take ADD COLUMN mix TEXT NOT NULL DEFAULT '{}';
    ALTER TABLE take ADD COLUMN source TEXT NOT NULL DEFAULT '';
    ALTER TABLE take ADD COLUMN run_pass INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE take ADD COLUMN first_bar INTEGER NOT NULL DEFAULT 0;
    """,
    # 4: what else a recording knows, as JSON: from here on a new field needs no step.
    """
    ALTER TABLE take ADD COLUMN more TEXT NOT NULL DEFAULT '{}';
    """,
    # 5: what was practised: a row a run, with the run itself as JSON.
    """
    CREATE TABLE practice (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        mark TEXT NOT NULL,
        target TEXT NOT NULL,
        run TEXT NOT NULL
    );
    CREATE INDEX practice_mark ON practice (mark);
    """,
)
VERSION = len(STEPS)


def migrate(connection: sqlite3.Connection) -> None:
    """Bring an open shelf up to this version; all of it or nothing."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        for step in STEPS[version:]:
            for statement in step.split(";"):
                if statement.strip():
                    connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
