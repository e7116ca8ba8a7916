"""`cuffbell invite`: a one-time code and the link that opens the chat with it.

Standard output is the code on the first line and the link on the second, nothing else.
"""

from __future__ import annotations

import argparse
import sys
from datetime import time
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from bot.errors import CuffbellError
from domain.averaging_rules import RULES
from domain.people import Helpline, Role
from domain.plans import PlanKind

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from storage.invitations import Invite

#: Stands in the link until `cuffbell run` has learnt the bot's name.
PLACEHOLDER: Final = "YOUR_BOT"
LONGEST_NAME: Final = 60
MOST_MEDICINE_TIMES: Final = 12

_EPILOG: Final = """\
examples:
  cuffbell invite --role patient --name Hollis --zone Europe/Lisbon --medicine-at 08:00
  cuffbell invite --role carer --name Wren --carer-of CODE

A code works once and for seven days. A link to a patient is a proposal: the patient is asked
in the chat before anybody is told anything.
"""


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `invite` to the command line."""
    parser = subparsers.add_parser(
        "invite",
        help="invite a patient, a carer or a practitioner",
        description="Make a one-time code that lets somebody join, and print it with its link.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add = parser.add_argument
    add("--role", required=True, choices=[r.value for r in Role], help="what the person will be")
    add(
        "--name",
        default="",
        help="how the bot calls the person (default: the name in their chat profile)",
    )
    add("--zone", metavar="ZONE", help="IANA time zone, e.g. Europe/Lisbon (patients)")
    add(
        "--medicine-at",
        metavar="HH:MM",
        action="append",
        help="local time at which medicine is taken; may be given several times (patients)",
    )
    plan_help = "what to measure first (patients; default: first-week)"
    night_help = "whom the patient calls when the practice is closed, e.g. 'Night clinic 116 117'"
    add("--out-of-hours", metavar="NUMBER", help=f"{night_help} (patients)")
    add("--plan", choices=[kind.value for kind in PlanKind], help=plan_help)
    target_help = "averages at home shall stay below it, in mmHg (patients; default: 135/85)"
    add("--target", metavar="SYSTOLIC/DIASTOLIC", help=target_help)
    rule_help = "how averages are made, see `cuffbell average` (patients; default: esh)"
    add("--rule", choices=list(RULES), help=rule_help)
    of_help = "a patient's invitation code, used or not, or id as `cuffbell export` gives it"
    add("--carer-of", metavar="CODE-OR-PERSON", help=f"proposed as carer: {of_help}")
    add("--practitioner-of", metavar="CODE-OR-PERSON", help=f"proposed as practitioner: {of_help}")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the code and the link."""
    from bot.commands.opened import opened_database

    wanted = wanted_invitation(arguments)
    with opened_database() as database, database.work() as work:
        code = work.invite(wanted)
        link = deep_link(work.bot_name() or PLACEHOLDER, code)
    sys.stdout.write(f"{code}\n{link}\n")
    return 0


def deep_link(bot_name: str, code: str) -> str:
    """The link that opens the chat with the bot and sends `/start CODE`."""
    return f"https://t.me/{bot_name}?start={code}"


def wanted_invitation(arguments: argparse.Namespace) -> Invite:
    """What the arguments ask for.

    Raises:
        CuffbellError: they make no sense; one line that names the option.
    """
    from bot.gazetteer import country_of
    from storage.invitations import Invite

    role = Role(arguments.role)
    _check_role(role, arguments)
    zone = None if arguments.zone is None else _zone(arguments.zone)
    times = arguments.medicine_at
    return Invite(
        role=role,
        name=_name(arguments.name),
        zone=zone,
        country=(country_of(zone) or None) if zone else None,
        medicine_times=None if times is None else _times(times),
        out_of_hours=_helpline(arguments.out_of_hours),
        plan=None if arguments.plan is None else PlanKind(arguments.plan),
        target=None if arguments.target is None else _target(arguments.target),
        rule=arguments.rule,
        carer_of=arguments.carer_of,
        practitioner_of=arguments.practitioner_of,
    )


def _check_role(role: Role, arguments: argparse.Namespace) -> None:
    allowed = {
        "--medicine-at": ("medicine_at", Role.PATIENT),
        "--out-of-hours": ("out_of_hours", Role.PATIENT),
        "--plan": ("plan", Role.PATIENT),
        "--target": ("target", Role.PATIENT),
        "--rule": ("rule", Role.PATIENT),
        "--carer-of": ("carer_of", Role.CARER),
        "--practitioner-of": ("practitioner_of", Role.PRACTITIONER),
    }
    for option, (name, of_role) in allowed.items():
        if getattr(arguments, name) is not None and role is not of_role:
            raise CuffbellError(f"{option} goes with --role {of_role} only.")


def _name(text: str) -> str:
    name = " ".join(text.split())
    if len(name) > LONGEST_NAME or not name.isprintable():
        raise CuffbellError(f"--name should be at most {LONGEST_NAME} printable characters.")
    return name


def _zone(text: str) -> str:
    try:
        return ZoneInfo(text).key
    except (KeyError, ValueError, OSError):
        raise CuffbellError(
            "--zone should be an IANA time zone such as Europe/Lisbon or Asia/Kolkata."
        ) from None


def _target(text: str) -> tuple[int, int]:
    # Here, because it loads NumPy, which no other invitation needs.
    from domain.evidence.targets import UnsafeTargetError, chosen_target
    from domain.shown import Pair

    systolic, _, diastolic = text.strip().partition("/")
    if not all(p.isascii() and p.isdigit() and len(p) <= 3 for p in (systolic, diastolic)):
        raise CuffbellError("--target should be two numbers in mmHg, e.g. 130/80.")
    try:
        pair = chosen_target(Pair(int(systolic), int(diastolic))).pair
    except UnsafeTargetError as error:
        raise CuffbellError(f"--target: {error}.") from None
    return pair.systolic, pair.diastolic


def _helpline(text: str | None) -> Helpline | None:
    from domain.talk.out_of_hours import LONGEST, helpline

    if text is None:
        return None
    entry = " ".join(text.split())
    found = helpline(entry)
    if found is None or len(entry) > LONGEST or not entry.isprintable():
        raise CuffbellError(
            f"--out-of-hours should hold a telephone number, in at most {LONGEST} characters."
        )
    return found


def _times(texts: list[str]) -> tuple[time, ...]:
    if len(texts) > MOST_MEDICINE_TIMES:
        raise CuffbellError(f"--medicine-at may be given {MOST_MEDICINE_TIMES} times at most.")
    return tuple(sorted({_time(text) for text in texts}))


def _time(text: str) -> time:
    hours, colon, minutes = text.strip().partition(":")
    # Digits only: int() would also take "+8", " 8" and digits of other scripts.
    written = colon and all(p.isascii() and p.isdigit() and len(p) <= 2 for p in (hours, minutes))
    if not written or len(minutes) != 2 or int(hours) > 23 or int(minutes) > 59:
        raise CuffbellError("--medicine-at should be a local time from 00:00 to 23:59, e.g. 08:00.")
    return time(int(hours), int(minutes))
