"""Answers kept in this process under a key that says everything they depend on, so none ever grows old."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(Generic[T]):
    """The answers last asked for, at most so many of them."""

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, Lock()
        self._answers: OrderedDict[Hashable, T] = OrderedDict()

    def __contains__(self, key: Hashable) -> bool:
        """Tell whether the answer is here."""
        return key in self._answers

    def answer(self, key: Hashable, work_out: Callable[[], T]) -> T:
        """Return the answer under this key, worked out when it is not here yet."""
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                return self._answers[key]
        found = work_out()  # outside the lock: it may take a while, and twice the same is no harm
        with self._lock:
            self._answers[key] = found
            if len(self._answers) > self._most:
                self._answers.popitem(last=False)
        return found
