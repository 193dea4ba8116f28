"""A row that holds one record of the pure library as a document, beside the columns that are searched."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.db import models

from keyhook_desk.web.fields import WrittenField


def document_hash(document: Any) -> str:
    """Return a SHA-256 of a JSON document in one canonical form; empty for none."""
    if document is None:
        return ""
    text = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


class DocumentRow(models.Model):
    """One record by name: its document, the digest and version of it, and the digest it had when it was imported."""

    name = models.CharField(max_length=60, unique=True)
    document = WrittenField()
    digest = models.CharField(max_length=64)
    version = models.PositiveIntegerField(default=0)
    imported_digest = models.CharField(max_length=64, blank=True)

    class Meta:
        abstract = True

    def put(self, document: Any, *, imported: bool = False) -> None:
        """Take a new document; the version goes up by one. Saving is left to the service."""
        self.document, self.digest = document, document_hash(document)
        self.version += 1
        if imported:
            self.imported_digest = self.digest

    @property
    def is_edited(self) -> bool:
        """Tell whether people changed the record since it was imported, or entered it themselves."""
        return self.digest != self.imported_digest
