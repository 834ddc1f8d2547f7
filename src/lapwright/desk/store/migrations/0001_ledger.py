"""The tables of the ledger as first released."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import migrations, models


class KeyAlone(migrations.CreateModel):
    """A table that is nothing but its key, kept by SQLite in one tree instead of two."""

    def database_forwards(self, app_label: str, schema_editor: Any, *states: Any) -> None:
        """Make the table."""
        if schema_editor.connection.vendor != "sqlite":
            super().database_forwards(app_label, schema_editor, *states)
            return
        schema_editor.execute(
            "CREATE TABLE ledger_subject (subject text NOT NULL, seq integer NOT NULL, "
            "PRIMARY KEY (subject, seq)) WITHOUT ROWID"
        )


class Migration(migrations.Migration):
    """Acts, the index of what they name, side records, signed heads."""

    initial = True
    dependencies: ClassVar = []
    operations: ClassVar = [
        migrations.CreateModel(
            "ActRow",
            [
                ("seq", models.IntegerField(primary_key=True, serialize=False)),
                ("stream", models.TextField()),
                ("version", models.IntegerField()),
                ("type", models.TextField()),
                ("prev_sha256", models.BinaryField(max_length=32)),
                ("sha256", models.BinaryField(max_length=32)),
                ("raw", models.BinaryField()),
            ],
            options={
                "db_table": "ledger_act",
                "constraints": [
                    models.UniqueConstraint(fields=["stream", "version"], name="ledger_act_stream")
                ],
            },
        ),
        KeyAlone(
            "SubjectRow",
            [
                (
                    "pk",
                    models.CompositePrimaryKey(
                        "subject",
                        "seq",
                        blank=True,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                ("subject", models.TextField()),
                ("seq", models.IntegerField()),
            ],
            options={"db_table": "ledger_subject"},
        ),
        migrations.CreateModel(
            "SideRow",
            [
                ("commitment", models.TextField(primary_key=True, serialize=False)),
                ("value", models.TextField()),
                ("salt", models.BinaryField()),
            ],
            options={"db_table": "ledger_side"},
        ),
        migrations.CreateModel(
            "HeadRow",
            [
                ("id", models.IntegerField(primary_key=True, serialize=False)),
                ("size", models.IntegerField()),
                ("root", models.TextField()),
                ("at", models.TextField()),
                ("key", models.TextField()),
                ("signature", models.TextField()),
            ],
            options={
                "db_table": "ledger_head",
                "constraints": [
                    models.UniqueConstraint(fields=["size", "signature"], name="ledger_head_once")
                ],
            },
        ),
    ]
