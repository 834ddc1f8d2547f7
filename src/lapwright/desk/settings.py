"""Django's settings for the store: one app, no web, no files of settings.

Databases are not named here: `lapwright.desk.addresses` adds one for each ledger
that is opened. Whoever configures Django first (the web desk) must install
`STORE_APP` too.
"""

from __future__ import annotations

from threading import Lock

STORE_APP = "lapwright.desk.store"
_LOCK = Lock()


def configure() -> None:
    """Set Django up once in this process; further calls do nothing."""
    import django
    from django.apps import apps
    from django.conf import settings

    with _LOCK:
        if not settings.configured:
            settings.configure(
                INSTALLED_APPS=[STORE_APP], USE_TZ=True, TIME_ZONE="UTC", LOGGING_CONFIG=None
            )
        if not apps.ready:
            django.setup()
