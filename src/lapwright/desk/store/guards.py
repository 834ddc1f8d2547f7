"""Guards in the database against changing what was filed.

They refuse update, delete, truncate and replace of acts and signed heads, and
acts that do not continue the chain. Altering a table can drop its triggers
without a word (SQLite rebuilds the table), so they are put back after every
migration and checked at every start. Whoever owns the database can still take
them away: the chain and the printed heads remain the evidence.
"""

from __future__ import annotations

from types import ModuleType

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from lapwright.desk.errors import GuardsRefused, StoreDamaged

from . import guards_postgresql, guards_sqlite
from .faults import named

TABLES = ("ledger_act", "ledger_subject", "ledger_side", "ledger_head")


def install(connection: BaseDatabaseWrapper) -> None:
    """Put all guards back, whatever is there."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for statement in _kind(connection).statements(connection):
            cursor.execute(statement)


def faults(connection: BaseDatabaseWrapper) -> tuple[str, ...]:
    """Return which guards are missing, altered, switched off, or not ours."""
    with connection.cursor() as cursor:
        found: dict[str, object] = _kind(connection).found(cursor)
    wanted: dict[str, object] = _kind(connection).wanted(connection)
    missing = [f"{name} is missing" for name in wanted if name not in found]
    altered = [
        f"{name} is altered" for name in wanted if found.get(name, wanted[name]) != wanted[name]
    ]
    strange = [f"{name} is not ours" for name in found if name not in wanted]
    return (*missing, *altered, *strange)


def ensure(connection: BaseDatabaseWrapper, *, name: str) -> tuple[str, ...]:
    """Check the guards and put them back where needed; return what was wrong.

    Raises
    ------
    StoreDamaged
        If a table is gone.
    GuardsRefused
        If they cannot be put back.
    """
    wrong = faults(connection)
    if not wrong:
        return ()
    check_tables(connection, name)
    left, reason = wrong, ""
    try:
        install(connection)
        left = faults(connection)
    except Exception as fault:
        if not named(fault):
            raise
        reason = f" ({str(fault).strip().splitlines()[0]})"
    if left:
        raise GuardsRefused(
            "the guards against change are not in place",
            got="; ".join(left) + reason,
            expected=f"the {len(_kind(connection).wanted(connection))} guards of this release",
            do="Let the owner of the tables open the ledger once; triggers that are not ours "
            "must be dropped by hand. Then check the ledger against its printed heads.",
            where=name,
        )
    return wrong


def check_tables(connection: BaseDatabaseWrapper, name: str) -> None:
    """Refuse a database in which a table is gone.

    Raises
    ------
    StoreDamaged
        With the tables that are gone.
    """
    gone = sorted(set(TABLES) - set(connection.introspection.table_names()))
    if gone:
        raise StoreDamaged(
            "tables of the ledger are gone",
            got="no " + ", ".join(gone),
            expected=", ".join(TABLES),
            do="Keep this database as it is, and restore the latest backup into another one.",
            where=name,
        )


def _kind(connection: BaseDatabaseWrapper) -> ModuleType:
    return guards_postgresql if connection.vendor == "postgresql" else guards_sqlite
