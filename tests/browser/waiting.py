"""Waiting for what no element shows: asked again until it is so, never for a number of milliseconds."""

from __future__ import annotations

import pytest

from .conftest import PATIENCE_MS

AGAIN_MS = 100
#: True when nothing waits in the browser for a connection.
EMPTY = """() => new Promise((done, failed) => {
  const asked = indexedDB.open('keyhook-outbox');
  asked.onerror = () => failed(asked.error);
  asked.onsuccess = () => {
    const base = asked.result, all = base.transaction('entries').objectStore('entries').count();
    all.onsuccess = () => { base.close(); done(all.result === 0); };
  };
})"""


def until(page, true, of=None):
    """Ask the page until it says yes; a page of ours lets nobody evaluate words while it waits."""
    for _ in range(PATIENCE_MS // AGAIN_MS):
        if page.evaluate(true, of):
            return
        page.wait_for_timeout(AGAIN_MS)
    pytest.fail(f"never came true: {true}")


def kept_for_offline(page):
    """Wait until the worker has the page in hand and holds a copy of it."""
    until(page, "navigator.serviceWorker.controller !== null")
    until(page, "caches.open('keyhook-pages').then(held => held.match(location.pathname)).then(one => !!one)")


def all_sent(page):
    """Wait until the desk has everything that was entered here."""
    until(page, EMPTY)
