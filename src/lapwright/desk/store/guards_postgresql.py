"""The guards of a PostgreSQL ledger, and how they are found again.

They fire ``ALWAYS``, so not even a session that replays a replica is exempt. A
batch is checked as a whole through its transition table; names are qualified, so
that no temporary table of the same name is looked at instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

TABLES = ("ledger_act", "ledger_head")

_REFUSE = """
BEGIN
    RAISE EXCEPTION 'lapwright: what was filed is never changed (% of %)', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'integrity_constraint_violation';
END
"""

_CHECK = """
BEGIN
    IF EXISTS (
        SELECT 1 FROM fresh f LEFT JOIN {schema}.ledger_act p ON p.seq = f.seq - 1
        WHERE (p.seq IS NULL) <> (f.seq = 0)
            OR f.prev_sha256 <> coalesce(p.sha256, decode(repeat('00', 32), 'hex'))
            OR f.sha256 <> sha256(f.prev_sha256 || f.raw)
    ) THEN
        RAISE EXCEPTION 'lapwright: not linked to the act before'
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    IF EXISTS (
        SELECT 1 FROM fresh f LEFT JOIN {schema}.ledger_act p
            ON p.stream = f.stream AND p.version = f.version - 1
        WHERE (p.seq IS NULL) <> (f.version = 0) OR p.seq >= f.seq
    ) THEN
        RAISE EXCEPTION 'lapwright: not the next version of its stream'
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NULL;
END
"""

# A plan made while the table was empty is kept for the session: these keep it on the indexes.
_SETTINGS = ("enable_hashjoin=off", "enable_mergejoin=off", "enable_seqscan=off")

# how pg_trigger writes "statement, before, delete or update or truncate" and "statement, after,
# insert"
_BEFORE_CHANGE, _AFTER_INSERT = 2 + 8 + 16 + 32, 4

_FOUND = """
SELECT t.tgname, t.tgtype, t.tgenabled::text, t.tgnewtable::text, p.proname::text, p.prosrc,
    p.proconfig, p.pronamespace = c.relnamespace
FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
WHERE NOT t.tgisinternal AND c.oid IN (to_regclass('ledger_act'), to_regclass('ledger_head'))
"""


def wanted(connection: BaseDatabaseWrapper) -> dict[str, object]:
    """Return the guards that must stand: name -> kind, state, function."""
    refuse = (_BEFORE_CHANGE, "A", None, "ledger_refuse", _REFUSE, None, True)
    check = _CHECK.format(schema=_schema(connection))
    settings = list(_SETTINGS)
    guards: dict[str, object] = {f"{table}_no_change": refuse for table in TABLES}
    guards["ledger_act_next"] = (
        _AFTER_INSERT,
        "A",
        "fresh",
        "ledger_check",
        check,
        settings,
        True,
    )
    return guards


def found(cursor: Any) -> dict[str, object]:
    """Return the triggers on our tables: name -> kind, state, function."""
    cursor.execute(_FOUND)
    return {row[0]: tuple(row[1:]) for row in cursor.fetchall()}


def statements(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """Yield what puts the guards back."""
    schema = _schema(connection)
    settings = " ".join(f"SET {setting.replace('=', ' = ')}" for setting in _SETTINGS)
    yield _function("ledger_refuse", _REFUSE, "")
    yield _function("ledger_check", _CHECK.format(schema=schema), settings)
    yield from _trigger(
        "ledger_act_next",
        "ledger_act",
        "AFTER INSERT",
        "REFERENCING NEW TABLE AS fresh FOR EACH STATEMENT EXECUTE FUNCTION ledger_check()",
    )
    for table in TABLES:
        yield from _trigger(
            f"{table}_no_change",
            table,
            "BEFORE UPDATE OR DELETE OR TRUNCATE",
            "FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse()",
        )


def _function(name: str, body: str, settings: str) -> str:
    return (
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql {settings} "
        f"AS $lapwright${body}$lapwright$"
    )


def _trigger(name: str, table: str, when: str, deed: str) -> Iterator[str]:
    yield f"DROP TRIGGER IF EXISTS {name} ON {table}"
    yield f"CREATE TRIGGER {name} {when} ON {table} {deed}"
    yield f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}"


def _schema(connection: BaseDatabaseWrapper) -> str:
    """Return the quoted schema that holds the tables."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT quote_ident(coalesce((SELECT n.nspname FROM pg_class c JOIN pg_namespace n "
            "ON n.oid = c.relnamespace WHERE c.oid = to_regclass('ledger_act')), "
            "current_schema(), 'public'))"
        )
        return str(cursor.fetchone()[0])
