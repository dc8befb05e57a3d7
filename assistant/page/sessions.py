"""Who is at the page: sessions in memory that end, their forgery tokens, and patience with wrong pass phrases.

A session is a random name in a cookie that no script reads and no other site sends. It ends after IDLE_S
without a page, after LIFE_S in any case, on leaving, and when the program ends.
"""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import dataclass

COOKIE = "kitcall_shop"
IDLE_S, LIFE_S = 30 * 60.0, 12 * 3600.0
MOST_SESSIONS = 200
MOST_WRONG, WAIT_S = 5, 30.0


@dataclass(slots=True)
class Session:
    """One browser. `token` goes into every form; `who` is the name given last, to fill it in again."""

    name: str
    token: str
    entered: bool
    began_s: float
    seen_s: float
    who: str = ""


class Sessions:
    """All sessions. `steady_s` gives seconds that only grow, `random_hex` an unguessable name."""

    def __init__(self, steady_s: Callable[[], float], random_hex: Callable[[], str]) -> None:
        self._steady_s, self._random_hex = steady_s, random_hex
        self._sessions: dict[str, Session] = {}
        self._wrong, self._wait_until_s = 0, 0.0

    def find(self, name: str) -> Session | None:
        """The session of that cookie, unless it has ended; it is seen now."""
        found = self._sessions.get(name)
        now_s = self._steady_s()
        if found is None:
            return None
        if now_s - found.seen_s > IDLE_S or now_s - found.began_s > LIFE_S:
            self.end(found)
            return None
        found.seen_s = now_s
        return found

    def begin(self, entered: bool) -> Session:
        """A new session; the one seen longest ago goes when there are too many."""
        if len(self._sessions) >= MOST_SESSIONS:
            self.end(min(self._sessions.values(), key=lambda each: (each.entered, each.seen_s)))
        now_s = self._steady_s()
        made = Session(self._random_hex(), self._random_hex(), entered, now_s, now_s)
        self._sessions[made.name] = made
        return made

    def end(self, session: Session) -> None:
        """The session's cookie is worth nothing from now on."""
        self._sessions.pop(session.name, None)

    def fits(self, session: Session, token: str) -> bool:
        """Whether a form carries the session's own token."""
        return hmac.compare_digest(session.token.encode(), token.encode("utf-8", "surrogatepass"))

    def wait_s(self) -> float:
        """Seconds for which no pass phrase is tried, after too many wrong ones."""
        return max(0.0, self._wait_until_s - self._steady_s())

    def note_try(self, right: bool) -> None:
        """Counts a pass phrase that was tried; MOST_WRONG wrong ones in a row make everybody wait."""
        self._wrong = 0 if right else self._wrong + 1
        if self._wrong >= MOST_WRONG:
            self._wrong, self._wait_until_s = 0, self._steady_s() + WAIT_S
