"""Posting of a check's events: answers and faults, what is worn, swaps, the verdict; and what takes each back."""

from __future__ import annotations

import json

from assistant.record.books import Books, Facts, Open, number_of, seconds_between, text_of, who_of
from assistant.record.chain import Link

AGAIN = frozenset({"doubt", "silence", "repeat", "explain", "denied"})  # a step asked once more for these


class Checks(Books):
    """What happens within a check. `clock_before` gives what is odd about the clock before an event, or None."""

    def clock_before(self, link: Link) -> str | None:
        return None

    def _on_check_started(self, link: Link, facts: Facts) -> None:
        local = self._local(link)
        day, month = f"{local:%Y-%m-%d}", f"{local:%Y-%m}"
        row = (
            link.seq,
            link.session,
            day,
            f"{local:%Y-%m-%d %H:%M:%S}",
            text_of(facts.get("title") or facts.get("check")),
            who_of(facts.get("diver")),
            link.seq,
            link.device,
            self.clock_before(link),
            link.boot,
            link.monotonic_us,
        )
        self._db.execute(
            """INSERT OR IGNORE INTO checks (seq, session, day, started, title, who, last_seq, device, clock, boot,
            monotonic_us) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
            row,
        )
        self._open[link.session] = Open(link.seq, day, link.boot, link.monotonic_us, False, link.wall_utc)
        self._months[month, "checks"] += 1
        items = facts.get("items")
        for item, number in (items if isinstance(items, dict) else {}).items():
            self._wear(link.seq, str(item), number_of(number), link.seq, day)

    def _on_asked(self, link: Link, facts: Facts) -> None:
        step = facts.get("step")
        check = self._check(link)
        if not step or check is None or facts.get("what") != "step":
            return
        check.asked[step] = str(facts.get("item") or "")
        because = facts.get("because")
        if not because or because in AGAIN:
            self._steps[check.day[:7], str(step), "again" if because else "asked"] += 1

    def _on_doubted(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is not None:
            check.counts["doubts"] += 1

    def _on_answered(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is None:
            return
        check.counts["answers"] += 1
        self._months[check.day[:7], "answers"] += 1
        if facts.get("outcome") == "fault":
            self._fault(link, check, facts)

    def _fault(self, link: Link, check: Open, facts: Facts) -> None:
        step, code = text_of(facts.get("step")) or "", text_of(facts.get("code")) or ""
        item = str(facts.get("item") or check.asked.get(step) or self._asked_of(link, step))
        number, said = self._worn(check.seq, item), text_of(facts.get("heard") or facts.get("phrase"))
        age = self._age_months(item, number, check.day)
        self._db.execute(
            "INSERT INTO faults (seq, check_seq, day, step, code, item, number, said, age_months)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (link.seq, check.seq, check.day, step, code, item, number, said, age),
        )
        self._count_fault(check, item, number, step, code, age, 1)

    def _count_fault(self, check: Open, item: str, number: str, step: str, code: str, age: int | None, by: int) -> None:
        check.counts["faults"] += by
        self._faults[check.day[:7], item, step, code, -1 if age is None else age // 12] += by
        self._db.execute("UPDATE items SET faults = faults + ? WHERE item = ? AND number = ?", (by, item, number))

    def _on_set_apart(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        item, number = str(facts.get("item") or ""), number_of(facts.get("number"))
        step, code, why = (text_of(facts.get(name)) for name in ("step", "code", "why"))
        if check is not None:
            self._attribute(check, item, number, step or "", code or "")
        day = check.day if check else f"{self._local(link):%Y-%m-%d}"
        self._seen(item, number, day)
        open_job = self._job_of(item, number) if number else None
        if open_job is None:
            self._db.execute(
                "INSERT INTO jobs VALUES (?, ?, ?, ?, ?, ?, ?, ?, 'apart', ?)",
                (link.seq, item, number, day, check.seq if check else None, step, code, why, link.seq),
            )
        else:  # a job runs already: what is wrong besides stands in it, and it is not done any more
            self._db.execute("UPDATE jobs SET state = 'apart', last_seq = ? WHERE seq = ?", (link.seq, open_job))
        self._do(link, facts, job=open_job or link.seq, about_check=link.session if check else None)

    def _attribute(self, check: Open, item: str, number: str, step: str, code: str) -> None:
        """The fault is that of the item set apart for it, which need not be the one that was asked about."""
        found = self._db.execute(
            "SELECT seq, item, number, age_months FROM faults WHERE check_seq = ? AND step = ? AND code = ?"
            " AND withdrawn = 0 ORDER BY seq DESC LIMIT 1",
            (check.seq, step, code),
        ).fetchone()
        if found is None:
            return
        seq, old_item, old_number, old_age = found
        age = self._age_months(item, number, check.day)
        self._db.execute(
            "UPDATE faults SET apart = 1, item = ?, number = ?, age_months = ? WHERE seq = ?", (item, number, age, seq)
        )
        self._count_fault(check, old_item, old_number, step, code, old_age, -1)
        self._count_fault(check, item, number, step, code, age, 1)

    def _on_withdrawn(self, link: Link, facts: Facts) -> None:
        check, what, step = self._check(link), facts.get("what") or "answered", text_of(facts.get("step")) or ""
        if check is None:
            return
        if what == "answered":
            self._withdraw_answer(link, check, step)
            if facts.get("item"):
                self._withdraw_apart(link, check, str(facts["item"]))
        elif what == "replaced":
            self._unwear(link, check, str(facts.get("item") or ""))
        elif what == "stopped":
            self._db.execute("UPDATE checks SET stopped = 0 WHERE seq = ?", (check.seq,))

    def _withdraw_answer(self, link: Link, check: Open, step: str) -> None:
        last = self._last_of(link, "answered", "step", step)
        row = self._db.execute(
            "SELECT item, number, code, age_months FROM faults WHERE seq = ? AND withdrawn = 0", (last,)
        ).fetchone()
        if row is not None:
            self._db.execute("UPDATE faults SET withdrawn = 1, apart = 0 WHERE seq = ?", (last,))
            self._count_fault(check, row[0], row[1], step, row[2], row[3], -1)

    def _withdraw_apart(self, link: Link, check: Open, item: str) -> None:
        last = self._last_of(link, "set_apart", "item", item)
        self._db.execute("UPDATE jobs SET state = 'undone', last_seq = ? WHERE seq = ?", (link.seq, last))

    def _on_replaced(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is None:
            return
        item = str(facts.get("item") or "")
        self._db.execute(
            "UPDATE worn SET until = ? WHERE seq = ? AND item = ? AND until IS NULL", (link.seq, check.seq, item)
        )
        self._wear(check.seq, item, number_of(facts.get("new")), link.seq, check.day)
        check.counts["swaps"] += 1

    def _unwear(self, link: Link, check: Open, item: str) -> None:
        last = self._last_of(link, "replaced", "item", item)
        gone = self._db.execute(
            "SELECT number FROM worn WHERE seq = ? AND item = ? AND since = ?", (check.seq, item, last)
        ).fetchone()
        if gone is None:
            return
        self._db.execute("DELETE FROM worn WHERE seq = ? AND item = ? AND since = ?", (check.seq, item, last))
        self._db.execute(
            "UPDATE worn SET until = NULL WHERE seq = ? AND item = ? AND until = ?", (check.seq, item, last)
        )
        self._db.execute("UPDATE items SET checks = checks - 1 WHERE item = ? AND number = ?", (item, gone[0]))
        check.counts["swaps"] -= 1

    def _on_verdict_given(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is None:
            return
        verdict, reasons = text_of(facts.get("verdict")) or "", json.dumps(facts.get("reasons") or [])
        lasted_s = self._lasted_s(link, check)
        self._db.execute(
            "UPDATE checks SET verdict = ?, reasons = ?, lasted_s = ? WHERE seq = ?",
            (verdict, reasons, lasted_s, check.seq),
        )
        self._close(check, verdict, lasted_s, 1)
        check.judged = True

    def _close(self, check: Open, verdict: str, lasted_s: float, by: int) -> None:
        month = check.day[:7]
        self._months[month, "judged"] += by
        self._months[month, verdict] += by
        self._months[month, "lasted_s"] += by * lasted_s
        swaps = self._db.execute("SELECT swaps FROM checks WHERE seq = ?", (check.seq,)).fetchone()[0]
        self._months[month, "swapped"] += by * (swaps + check.counts["swaps"] > 0)
        if verdict == "ready":
            self._db.execute(
                """UPDATE items SET uses = uses + ? WHERE (item, number) IN
                (SELECT item, number FROM worn WHERE seq = ? AND until IS NULL)""",
                (by, check.seq),
            )

    def _reopen(self, check: Open) -> None:
        """A verdict that was given does not stand once the check goes on."""
        verdict, lasted_s = self._db.execute(
            "SELECT verdict, lasted_s FROM checks WHERE seq = ?", (check.seq,)
        ).fetchone()
        self._close(check, verdict, lasted_s, -1)
        self._db.execute(
            "UPDATE checks SET verdict = NULL, reasons = NULL, lasted_s = NULL WHERE seq = ?", (check.seq,)
        )
        check.judged = False

    def _on_stopped(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is not None:
            self._db.execute("UPDATE checks SET stopped = 1 WHERE seq = ?", (check.seq,))

    def _on_continued(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is not None:
            self._db.execute("UPDATE checks SET stopped = 0 WHERE seq = ?", (check.seq,))

    def _on_left_open(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is not None:
            self._steps[check.day[:7], text_of(facts.get("step")) or "", "left_open"] += 1

    def _on_noted(self, link: Link, facts: Facts) -> None:
        check = self._check(link)
        if check is not None:
            check.counts["notes"] += 1

    def _asked_of(self, link: Link, step: str) -> str:
        found = self._last_of(link, "asked", "step", step)
        row = self._db.execute("SELECT facts ->> 'item' FROM log.event WHERE seq = ?", (found,)).fetchone()
        return str(row[0] or "") if row else ""

    def _lasted_s(self, link: Link, check: Open) -> float:
        if link.boot == check.boot:
            return (link.monotonic_us - check.monotonic_us) / 1e6
        return max(0.0, seconds_between(check.started_utc, link.wall_utc))
