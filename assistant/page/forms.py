"""The forms: each does one thing through the shop's rules and shows the page that it changed.

What is refused is said at the top of the same page, with what was filled in still there; nothing is lost.
"""

from __future__ import annotations

from collections.abc import Callable

from starlette.responses import RedirectResponse, Response

from assistant.errors import BadInput, StoreError
from assistant.page import pages
from assistant.page.visit import Route, Visit, set_cookie
from assistant.page.words import link
from assistant.record import Shopwork


def done(visit: Visit, work: Callable[[Shopwork, str], object], back: str, page: Route) -> Response:
    """Does the work and goes to `back`; where it is refused, draws `page` again with the reason."""
    who = visit.given.get("who", "")
    try:
        with visit.shop.writing() as shop:
            work(shop, who)
    except (BadInput, StoreError) as problem:
        visit.problem = problem
        return page(visit)
    visit.session.who = who.strip()
    return RedirectResponse(back, 303)


def set_apart(visit: Visit) -> Response:
    """Takes an item off the rail in the shop."""
    item, number, why = (visit.given.get(name, "") for name in ("item", "number", "why"))
    return done(visit, lambda shop, who: shop.set_apart(item, number, why, who), "/apart", pages.apart)


def work(visit: Visit) -> Response:
    """Writes down a repair."""
    job, (found, did, parts) = _job(visit), (visit.given.get(name, "") for name in ("found", "done", "parts"))
    return done(visit, lambda shop, who: shop.note_work(job, found, did, parts, who), _of(job), pages.job)


def bench(visit: Visit) -> Response:
    """Writes down a bench check; it passed only where that was chosen."""
    job, outcome, note = _job(visit), visit.given.get("outcome"), visit.given.get("note", "")

    def write(shop: Shopwork, who: str) -> None:
        if outcome not in ("passed", "failed"):
            raise BadInput("It is not said whether the bench check passed.", "Choose passed or failed.")
        shop.note_bench(job, outcome == "passed", note, who)

    return done(visit, write, _of(job), pages.job)


def back_to_rental(visit: Visit) -> Response:
    """Puts an item back on the rail."""
    job = _job(visit)
    return done(visit, lambda shop, who: shop.return_to_rental(job, who), _of(job), pages.job)


def note_date(visit: Visit) -> Response:
    """Notes a service, a test, an inspection or a purchase."""
    item, number, what, on = (visit.given.get(name, "") for name in ("item", "number", "what", "on"))
    return done(visit, lambda shop, who: shop.note_date(item, number, what, on, who), "/due", pages.all_due)


def settle(visit: Visit) -> Response:
    """Settles an open point, or carries it over."""
    check, note, how = (visit.given.get(name, "") for name in ("check", "note", "how"))

    def write(shop: Shopwork, who: str) -> None:
        if how == "settle":
            shop.settle_point(check, note, who)
        elif how == "carry":
            shop.carry_point(check, note, who)
        else:
            raise BadInput("It is not said what to do with the point.", "Choose to settle it or to carry it over.")

    return done(visit, write, link("/day", of=pages.asked_day(visit)), pages.day)


def sign(visit: Visit) -> Response:
    """Closes a day by name."""
    of = pages.asked_day(visit)
    return done(visit, lambda shop, who: shop.sign_day(of, who), link("/day", of=of), pages.day)


def verify(visit: Visit) -> Response:
    """Has the whole record verified, beside the page."""
    visit.shop.verify.start()
    return RedirectResponse("/record", 303)


def door(visit: Visit) -> Response:
    """The page that asks for the pass phrase."""
    if visit.session.entered:
        return RedirectResponse("/", 303)
    return visit.draw("enter.html", wait_s=round(visit.sessions.wait_s()))


def enter(visit: Visit) -> Response:
    """Tries a pass phrase; the right one begins a session of a new name."""
    phrase = visit.shop.passphrase
    if phrase is None or visit.session.entered:
        return RedirectResponse("/", 303)
    if visit.sessions.wait_s() > 0:
        visit.problem = BadInput("Too many wrong pass phrases.", "Wait half a minute, then try again.")
        return visit.draw("enter.html", wait_s=round(visit.sessions.wait_s()))
    right = phrase.fits(visit.given.get("phrase", ""))
    visit.sessions.note_try(right)
    visit.given = {}
    if not right:
        visit.problem = BadInput("That is not the pass phrase.", "Try again.")
        return visit.draw("enter.html", wait_s=round(visit.sessions.wait_s()))
    visit.sessions.end(visit.session)
    answer = RedirectResponse("/", 303)
    set_cookie(answer, visit.sessions.begin(entered=True))
    return answer


def leave(visit: Visit) -> Response:
    """Ends the session."""
    visit.sessions.end(visit.session)
    return RedirectResponse("/enter", 303)


def _job(visit: Visit) -> int:
    return pages.whole(visit.given.get("job", ""))


def _of(job: int) -> str:
    return link("/job", of=job)
