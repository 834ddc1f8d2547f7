"""The store as a Django app: after every migration the guards are put back."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate


class StoreConfig(AppConfig):
    """Acts, their index, side records and signed heads."""

    name = "lapwright.desk.store"
    label = "store"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Have the guards put back after every migration: altering a table can drop them."""
        post_migrate.connect(_put_back, sender=self, dispatch_uid="lapwright-guards")


def _put_back(*, using: str, **_: Any) -> None:
    from .guards import install

    if "ledger_act" in connections[using].introspection.table_names():
        install(connections[using])
