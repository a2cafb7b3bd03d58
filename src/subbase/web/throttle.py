"""How often somebody may ask: a store of goes that fills up again, and waits that grow with each wrong password.

All of it is held in memory, bounded, by one process; a server that starts anew has forgotten it.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable
from dataclasses import dataclass

Clock = Callable[[], float]
MOST_KEYS = 20_000
"""Callers that are remembered at once; of more, those that were quiet longest are forgotten."""


@dataclass(frozen=True, slots=True)
class Rate:
    """How many goes somebody has in hand, and how many come back in a second."""

    in_hand: int
    per_s: float


WRITES = Rate(400, 5.0)
"""A phone that was offline sends what it has kept in one go; a survey that is typed in sends three in two seconds."""
HEAVY = Rate(120, 1.0)
"""Papers, field files, whole jobs, diagnoses: each costs up to a second of this machine. A phone that keeps a dozen jobs
for the cellar asks for the papers of all of them."""
READS = Rate(600, 20.0)
STRANGERS = Rate(60, 1.0)
"""Whoever has not signed in, by address."""


class Goes:
    """Goes left by key: each costs one, and they come back with time."""

    def __init__(self, clock: Clock = time.monotonic, most: int = MOST_KEYS) -> None:
        self.clock = clock
        self._most = most
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._guard = threading.Lock()

    def wait_s(self, key: str, rate: Rate) -> float:
        """Take one go; return 0.0, or how long to wait when there is none left."""
        now = self.clock()
        with self._guard:
            left, since = self._left.pop(key, (float(rate.in_hand), now))
            left = min(float(rate.in_hand), left + max(0.0, now - since) * rate.per_s)
            wait = 0.0 if left >= 1.0 else (1.0 - left) / rate.per_s
            self._left[key] = (left if wait else left - 1.0, now)
            while len(self._left) > self._most:
                self._left.popitem(last=False)
        return wait

    def __len__(self) -> int:
        return len(self._left)


FREE_TRIES = 5
"""Wrong passwords before the first wait."""
FREE_TRIES_ADDRESS = 20
"""The same for an address, behind which a whole firm may sit."""
LONGEST_WAIT_S = 900.0
"""Four tries an hour are left then: ASVS 4.0.3, 2.2.1 allows 100 on one account (from memory). No account is ever locked."""
FORGOTTEN_S = 6 * 3600.0
"""Without a wrong password; then it is begun anew."""


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    last: float = 0.0
    until: float = 0.0


class Tries:
    """Wrong passwords by account, by address, and by browsers that have signed in before.

    A browser that this account was opened from before bears a signed cookie and has a count of its own. So whoever sends
    wrong passwords from elsewhere makes strangers wait, but not the account's own person (OWASP's device cookies).
    """

    def __init__(self, clock: Clock = time.monotonic, most: int = MOST_KEYS) -> None:
        self.clock = clock
        self._most = most
        self._kept: OrderedDict[str, _Tries] = OrderedDict()
        self._guard = threading.Lock()

    def begin(self, keys: Iterable[str]) -> float:
        """Return 0.0 and count a try as wrong until it is known to be right; or how long to wait.

        Counted before the password is looked at: many tries sent at one moment are not all free.
        """
        now, keys = self.clock(), tuple(keys)
        with self._guard:
            found = [self._get(key, now) for key in keys]
            wait = max((tries.until - now for tries in found), default=0.0)
            if wait > 0.0:
                return wait
            for key, tries in zip(keys, found, strict=True):
                tries.wrong += 1
                tries.last = now
                over = tries.wrong - (FREE_TRIES_ADDRESS if key.startswith("address ") else FREE_TRIES)
                tries.until = now + min(LONGEST_WAIT_S, 2.0 ** min(over, 20)) if over >= 0 else now
        return 0.0

    def right(self, keys: Iterable[str]) -> None:
        """The password was right: forget what was counted for these keys."""
        with self._guard:
            for key in keys:
                self._kept.pop(key, None)

    def _get(self, key: str, now: float) -> _Tries:
        tries = self._kept.pop(key, None)
        if tries is None or now - tries.last > FORGOTTEN_S:
            tries = _Tries()
        self._kept[key] = tries
        while len(self._kept) > self._most:
            self._kept.popitem(last=False)
        return tries

    def __len__(self) -> int:
        return len(self._kept)


__all__ = ["FREE_TRIES", "HEAVY", "LONGEST_WAIT_S", "READS", "STRANGERS", "WRITES", "Goes", "Rate", "Tries"]
