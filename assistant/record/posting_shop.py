"""Posting of the shop's own events, and of the planned day on deck: jobs, dates, points, sign-off, trips."""

from __future__ import annotations

from assistant.record.books import Books, Facts, number_of, text_of
from assistant.record.chain import Link
from assistant.record.ledger_tables import CLOSED_STATES


class Shop(Books):
    """What the shop does, and what the boat does as a whole."""

    def _on_work_noted(self, link: Link, facts: Facts) -> None:
        self._job_doing(link, facts, "worked")

    def _on_bench_checked(self, link: Link, facts: Facts) -> None:
        self._job_doing(link, facts, "passed" if facts.get("outcome") == "passed" else "failed")

    def _on_returned_to_rental(self, link: Link, facts: Facts) -> None:
        self._job_doing(link, facts, "back")

    def _job_doing(self, link: Link, facts: Facts, state: str) -> None:
        job = facts.get("job")
        self._db.execute(
            f"UPDATE jobs SET state = ?, last_seq = ? WHERE seq = ? AND state NOT IN {CLOSED_STATES}",
            (state, link.seq, job),
        )
        self._do(link, facts, job=job)

    def _on_date_noted(self, link: Link, facts: Facts) -> None:
        item, number = str(facts.get("item") or ""), number_of(facts.get("number"))
        on = str(facts.get("on") or "")
        self._seen(item, number, f"{self._local(link):%Y-%m-%d}")
        uses = self._db.execute("SELECT uses FROM items WHERE item = ? AND number = ?", (item, number)).fetchone()[0]
        since = self._db.execute(
            """SELECT count(*) FROM worn JOIN checks USING (seq) WHERE item = ? AND number = ? AND until IS NULL
            AND verdict = 'ready' AND day > ?""",
            (item, number, on),
        ).fetchone()[0]
        self._db.execute(
            "INSERT OR REPLACE INTO dated VALUES (?, ?, ?, ?, ?, ?)",
            (item, number, str(facts.get("what") or ""), on, uses - since, link.seq),
        )
        self._do(link, facts)

    def _on_point_settled(self, link: Link, facts: Facts) -> None:
        self._db.execute("DELETE FROM carried WHERE session = ?", (facts.get("check"),))
        self._do(link, facts, about_day=facts.get("day"), about_check=facts.get("check"))

    def _on_point_carried(self, link: Link, facts: Facts) -> None:
        self._db.execute(
            "INSERT OR REPLACE INTO carried VALUES (?, ?, ?)", (facts.get("check"), facts.get("day"), link.seq)
        )
        self._do(link, facts, about_day=facts.get("day"), about_check=facts.get("check"))

    def _on_day_signed(self, link: Link, facts: Facts) -> None:
        self._do(link, facts, about_day=facts.get("day"))

    def _on_day_planned(self, link: Link, facts: Facts) -> None:
        self._db.execute("DELETE FROM trips WHERE day = ? AND plan <> ?", (facts.get("date"), link.session))
        self._db.execute(
            "INSERT OR IGNORE INTO trips (plan, trip, day) VALUES (?, 0, ?)", (link.session, facts.get("date"))
        )

    def _on_trip_planned(self, link: Link, facts: Facts) -> None:
        self._db.execute(
            "INSERT OR IGNORE INTO trips (plan, trip, day, name) SELECT plan, ?, day, ? FROM trips"
            " WHERE plan = ? AND trip = 0",
            (facts.get("trip"), text_of(facts.get("name")), link.session),
        )

    def _on_diver_planned(self, link: Link, facts: Facts) -> None:
        self._db.execute(
            "UPDATE trips SET divers = divers + 1 WHERE plan = ? AND trip = ?", (link.session, facts.get("trip"))
        )

    def _on_boat_judged(self, link: Link, facts: Facts) -> None:
        self._db.execute(
            "UPDATE trips SET verdict = ?, facts = ?, seq = ? WHERE plan = ? AND trip = ?",
            (text_of(facts.get("verdict")), link.facts, link.seq, link.session, facts.get("trip")),
        )

    def _on_diver_called(self, link: Link, facts: Facts) -> None:
        self._db.execute(
            "INSERT OR REPLACE INTO called VALUES (?, ?, ?, ?, ?)",
            (
                facts.get("check"),
                link.session,
                facts.get("trip"),
                facts.get("place"),
                int(bool(facts.get("after_dive"))),
            ),
        )
