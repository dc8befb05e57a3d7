"""The day on deck as the log keeps it: what was planned, and what the group did. Reads only.

One import of a plan is one session, `day-…`; the group's doings go to the same session, and each check of a
diver is a session of its own, named by `diver_called`. Trips and places are whole numbers from 1, in the order
of the plan; a name is said once, in `diver_planned`, and lies apart from the hashed event.

    kind             facts
    day_planned      date (YYYY-MM-DD), file_digest (SHA-256 of the file), trips, divers (counts)
    trip_planned     trip, name, depth_m, minutes (null where the plan gives none)
    diver_planned    trip, place, diver (personal: number or first name), items {item: number or null}, water_l
    spare_planned    trip, item, number (null: unmarked)
    diver_called     trip, place, check (session), after_dive (false: the check before, true: the return check)
    item_given       trip, place, item, old, new: another item before a check, where the planned one is not to be had
    item_missing     trip, place, item, old: the same, and there was none
    kit_exchanged    trip, one, other (places), items [ids]; each check already begun gets a `replaced` beside it,
                     with `because` "exchanged", in the same transaction
    diver_taken_off  trip, place
    diver_put_back   trip, place
    boat_judged      trip, verdict (ready, hold), and places: ready, hold, begun, unchecked, off; gas (words or "")

All but the first four also have `heard` and `by` (voice, typed). In the checks: `set_apart` (item, number) takes
an item off the rail until `returned_to_rental` (item, number), which the shop's page writes after a bench check.
"""

from __future__ import annotations
