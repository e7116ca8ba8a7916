"""What follows from any event, whatever it was: looked at once the event has been answered."""

from __future__ import annotations

from domain.talk import details, reach, rehearsal
from domain.talk.turn import Turn


def follow(turn: Turn) -> None:
    """Who can be reached may have changed, an alarm may have begun, somebody may be told."""
    reach.follow(turn)
    rehearsal.follow(turn)
    told_before = {contact.person for contact in turn.before.contacts if contact.may_be_told}
    if any(c.may_be_told and c.person not in told_before for c in turn.patient.contacts):
        details.offer_later(turn)


def weekly(turn: Turn) -> None:
    """Once a week: what is due again, or was never asked of people who joined before."""
    rehearsal.plan(turn)
    details.offer_later(turn)
