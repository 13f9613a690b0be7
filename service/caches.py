"""Caches bounded in bytes: what callers send never crowds out what is kept, or the memory."""

from __future__ import annotations

import sys
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import lru_cache, update_wrapper
from threading import RLock
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar

import numpy as np
from cachetools import LRUCache

KeyT = TypeVar("KeyT", bound=Hashable)
ValueT = TypeVar("ValueT")
ParamsT = ParamSpec("ParamsT")

MB = 1 << 20
_SHARED = (type(None), bool, type, Enum)
"""Objects there is one of, however often they are named."""


def size_of(thing: object) -> int:
    """Bytes that ``thing`` and all it refers to take, each object counted once.

    Arrays are counted with the memory they show, tuples, lists, mappings, sets and dataclasses
    with their members; of anything else only the object itself.
    """
    seen: set[int] = set()
    total, waiting = 0, [thing]
    while waiting:
        one = waiting.pop()
        members = _members_of(type(one))  # type: ignore[arg-type]  # types are hashable
        if members is None or id(one) in seen:
            continue
        seen.add(id(one))
        total += sys.getsizeof(one)
        if members is not _nothing:
            waiting += members(one)
        if isinstance(one, np.ndarray):
            total += one.nbytes if one.base is not None else 0
    return total


def _nothing(_: object) -> Iterable[object]:
    return ()


@lru_cache(maxsize=512)  # an answer has thousands of objects of a few dozen types
def _members_of(kind: type) -> Callable[[Any], Iterable[object]] | None:
    """What lists the members of an object of this type; ``None`` where it is not counted."""
    if issubclass(kind, _SHARED):
        return None
    if issubclass(kind, Mapping):
        return lambda one: [*one.keys(), *one.values()]
    if issubclass(kind, tuple | list | set | frozenset):
        return iter
    if is_dataclass(kind):
        names = [field.name for field in fields(kind)]
        return lambda one: [getattr(one, name) for name in names]
    return _nothing


class CacheInfo(NamedTuple):
    """How a cache has served: calls answered from it and not, and the bytes it holds."""

    hits: int
    misses: int
    bytes: int


class SizedCache(Generic[KeyT, ValueT]):
    """The values used last, in at most ``most`` bytes with their keys; threads may share it."""

    def __init__(self, most: int, size: Callable[[ValueT], int] = size_of) -> None:
        """``size``: bytes of a value, where counting them one by one is wrong or slow."""
        self._size = size
        self._values: LRUCache[KeyT, tuple[ValueT, int]] = LRUCache(most, getsizeof=_counted)
        self._lock = RLock()
        self._hits = self._misses = 0

    def get(
        self, key: KeyT, make: Callable[[], ValueT], size: Callable[[], int] | None = None
    ) -> ValueT:
        """The value under ``key``, else what ``make`` returns; too large a value is not kept.

        ``size``: bytes of both, where the caller knows; else they are counted.
        """
        with self._lock:
            if (found := self._values.get(key)) is not None:
                self._hits += 1
                return found[0]
            self._misses += 1
        value = make()  # outside the lock: others need not wait for it
        self.put(key, value, None if size is None else size())
        return value

    def find(self, key: KeyT) -> ValueT | None:
        """The value under ``key``, if it is there."""
        with self._lock:
            found = self._values.get(key)
        return None if found is None else found[0]

    def put(self, key: KeyT, value: ValueT, size: int | None = None) -> None:
        """Holds ``value`` under ``key`` instead of what was there."""
        size = size_of(key) + self._size(value) if size is None else size
        with self._lock:
            self._values.pop(key, None)
            if size <= self._values.maxsize:
                self._values[key] = value, size

    def clear(self) -> None:
        """Forgets the values and the counts."""
        with self._lock:
            self._values.clear()
            self._hits = self._misses = 0

    def info(self) -> CacheInfo:
        """How it has served since it was made or cleared."""
        with self._lock:
            return CacheInfo(self._hits, self._misses, int(self._values.currsize))


def _counted(held: tuple[object, int]) -> int:
    return held[1]


class SplitCache(Generic[ParamsT, ValueT]):
    """A function with two caches before it: one for kept boats, one for those sent inline.

    A flood of inline boats cannot push a kept one out.
    """

    def __init__(
        self, function: Callable[ParamsT, ValueT], kept: int, inline: int,
        is_kept: Callable[ParamsT, bool], key: Callable[ParamsT, Hashable],
        size: Callable[ParamsT, int] | None = None,
    ) -> None:  # fmt: skip
        self.kept: SizedCache[Hashable, ValueT] = SizedCache(kept)
        self.inline: SizedCache[Hashable, ValueT] = SizedCache(inline)
        self._function, self._is_kept, self._key, self._size = function, is_kept, key, size
        update_wrapper(self, function)

    def __call__(self, *args: ParamsT.args, **kwargs: ParamsT.kwargs) -> ValueT:
        cache = self.kept if self._is_kept(*args, **kwargs) else self.inline
        size = self._size
        return cache.get(
            self._key(*args, **kwargs),
            lambda: self._function(*args, **kwargs),
            None if size is None else lambda: size(*args, **kwargs),
        )

    def cache_clear(self) -> None:
        """Forgets everything."""
        self.kept.clear()
        self.inline.clear()

    def cache_info(self) -> CacheInfo:
        """Both caches together."""
        kept, inline = self.kept.info(), self.inline.info()
        return CacheInfo(*(a + b for a, b in zip(kept, inline, strict=True)))


def split_cache(
    *, kept: int, inline: int, is_kept: Callable[ParamsT, bool],
    key: Callable[ParamsT, Hashable] = lambda *args, **_: args,
    size: Callable[ParamsT, int] | None = None,
) -> Callable[[Callable[ParamsT, ValueT]], SplitCache[ParamsT, ValueT]]:  # fmt: skip
    """Caches a pure function of hashable arguments in at most ``kept`` and ``inline`` bytes.

    ``is_kept`` tells from the arguments which of the two; ``key`` names the call where the
    arguments themselves are too large to hold, and ``size`` the bytes of an entry where counting
    them one by one is slow.
    """
    return lambda function: SplitCache(function, kept, inline, is_kept, key, size)
