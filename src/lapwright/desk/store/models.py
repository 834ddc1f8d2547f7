"""Tables of the ledger.

An act is kept as the exact bytes that were hashed; stream, version and type stand
beside them for look-ups and are compared with the bytes by
`lapwright.desk.store.readmodels.compare`. The index of subjects is a read model.
Side records are the only thing here that may be deleted.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models


class ActRow(models.Model):
    """One entry of the log; never changed, never deleted."""

    seq: models.IntegerField[int, int] = models.IntegerField(primary_key=True)
    stream: models.TextField[str, str] = models.TextField()
    version: models.IntegerField[int, int] = models.IntegerField()
    type: models.TextField[str, str] = models.TextField()
    prev_sha256: models.BinaryField[bytes, bytes] = models.BinaryField(max_length=32)
    sha256: models.BinaryField[bytes, bytes] = models.BinaryField(max_length=32)
    raw: models.BinaryField[bytes, bytes] = models.BinaryField()

    objects: ClassVar[models.Manager[ActRow]] = models.Manager()

    class Meta:
        """Two writers who have seen the same stream cannot both add to it."""

        db_table = "ledger_act"
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["stream", "version"], name="ledger_act_stream")
        ]


class SubjectRow(models.Model):
    """What an act names: a read model, made anew from the acts by ``rebuild``."""

    pk = models.CompositePrimaryKey("subject", "seq")
    subject: models.TextField[str, str] = models.TextField()
    seq: models.IntegerField[int, int] = models.IntegerField()

    objects: ClassVar[models.Manager[SubjectRow]] = models.Manager()

    class Meta:
        """One row for each subject of each act."""

        db_table = "ledger_subject"


class SideRow(models.Model):
    """A personal value and the salt of its commitment; may be deleted."""

    commitment: models.TextField[str, str] = models.TextField(primary_key=True)
    value: models.TextField[str, str] = models.TextField()
    salt: models.BinaryField[bytes, bytes] = models.BinaryField()

    objects: ClassVar[models.Manager[SideRow]] = models.Manager()

    class Meta:
        """Beside the chain."""

        db_table = "ledger_side"


class HeadRow(models.Model):
    """A signed tree head; never changed, never deleted."""

    id: models.IntegerField[int, int] = models.IntegerField(primary_key=True)
    size: models.IntegerField[int, int] = models.IntegerField()
    root: models.TextField[str, str] = models.TextField()
    at: models.TextField[str, str] = models.TextField()
    key: models.TextField[str, str] = models.TextField()
    signature: models.TextField[str, str] = models.TextField()

    objects: ClassVar[models.Manager[HeadRow]] = models.Manager()

    class Meta:
        """Each head once."""

        db_table = "ledger_head"
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["size", "signature"], name="ledger_head_once")
        ]
