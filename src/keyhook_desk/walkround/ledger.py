"""The hand-over ledger: each entry hashed over its canonical form, which holds the hash of the one before.

An entry that is changed, left out, put in or moved breaks the chain from there on, and :func:`trouble_in` names the
first place. What was cut off at the end shows only against a hash noted elsewhere: the last one stands on the printed
hand-over and in what ``keyhook audit`` says.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from typing import Any

from keyhook_desk.walkround.models import HandOverRecord
from keyhook_desk.web.document import document_hash


def personal_part(name: str, signature: str) -> dict[str, str]:
    """Return name and signature with a salt, so that the digest in the entry tells nobody who it was."""
    return {"name": name, "signature": signature, "salt": secrets.token_hex(16)}


def sealed(record: HandOverRecord, said: dict[str, Any], before: HandOverRecord | None) -> HandOverRecord:
    """Return the record with its entry and hashes filled in; ``said`` is what was said and shown."""
    record.number = before.number + 1 if before else 1
    record.before_hash = before.entry_hash if before else ""
    record.entry = {
        **said,
        "number": record.number,
        "uid": str(record.uid),
        "hire": record.hire.name,
        "personal": document_hash(record.personal),
        "before": record.before_hash,
    }
    record.entry_hash = document_hash(record.entry)
    return record


def trouble_in(records: Iterable[HandOverRecord]) -> list[str]:
    """Return a sentence for each entry that is not as it was written; none when the ledger is whole.

    ``records`` in order of their number, with ``hire`` loaded.
    """
    found, number, before = [], 0, ""
    for record in records:
        number += 1
        if record.number != number:
            found.append(f"The hand-over ledger lacks entry {number}: after {number - 1} comes {record.number}.")
            number = record.number
        found.extend(f"Entry {number} of the hand-over ledger {wrong}." for wrong in _wrong_with(record, before))
        before = record.entry_hash
    return found


def _wrong_with(record: HandOverRecord, before: str) -> list[str]:
    entry, wrong = record.entry, []
    if document_hash(entry) != record.entry_hash:
        wrong.append("was altered: its text does not give its hash")
    if record.before_hash != before or entry.get("before") != before:
        wrong.append("does not follow from the entry before it")
    if record.personal is not None and document_hash(record.personal) != entry.get("personal"):
        wrong.append("was altered: name or signature are not those that were given")
    columns = {"number": record.number, "uid": str(record.uid), "hire": record.hire.name}
    if any(entry.get(key) != value for key, value in columns.items()):
        wrong.append("was altered: number, mark or hire differ from its text")
    return wrong
