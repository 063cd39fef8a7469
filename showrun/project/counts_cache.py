"""A cache in Redis that is gone now and then: what it counts then is not counted."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any, TypeVar

from django.core.cache.backends.redis import RedisCache
from redis.exceptions import RedisError

log = logging.getLogger(__name__)
T = TypeVar("T")


class CountsCache(RedisCache):
    """Redis for limits and nothing else: when it is down, people go on working unlimited."""

    def _or(self, without: T, ask: Callable[[], T]) -> T:
        try:
            return ask()
        except RedisError:
            log.warning("the cache is not there; nothing is counted", exc_info=True)
            return without

    def add(self, *args: Any, **kwargs: Any) -> bool:
        return bool(self._or(True, lambda: super(CountsCache, self).add(*args, **kwargs)))

    def get(self, key: Any, default: Any = None, version: int | None = None) -> Any:
        return self._or(default, lambda: super(CountsCache, self).get(key, default, version))

    def set(self, *args: Any, **kwargs: Any) -> None:
        self._or(None, lambda: super(CountsCache, self).set(*args, **kwargs))

    def incr(self, *args: Any, **kwargs: Any) -> int:
        return int(self._or(1, lambda: super(CountsCache, self).incr(*args, **kwargs)))

    def delete(self, *args: Any, **kwargs: Any) -> bool:
        return bool(self._or(False, lambda: super(CountsCache, self).delete(*args, **kwargs)))
