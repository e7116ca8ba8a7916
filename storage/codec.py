"""Values of the domain as JSON texts and back, exactly.

Only values that are read whole are kept this way; what is searched has columns.
"""

from __future__ import annotations

from typing import Any, Final

from pydantic import TypeAdapter

from domain.duty import Duty
from domain.events import Action, Event
from domain.outcome import Attachment
from domain.people import State
from storage.messages import ShownButton, ShownKeyboard

_STATE: Final = TypeAdapter(State)
_DUTY: Final = TypeAdapter(Duty)
_ACTION: Final = TypeAdapter(Action)
_ATTACHMENT: Final[TypeAdapter[Attachment]] = TypeAdapter(Attachment)
_KEYBOARD: Final = TypeAdapter(ShownKeyboard)
_BUTTONS: Final[TypeAdapter[tuple[tuple[ShownButton, ...], ...]]] = TypeAdapter(
    tuple[tuple[ShownButton, ...], ...]
)
_EVENT: Final[TypeAdapter[Event]] = TypeAdapter(Event)


def _text(adapter: TypeAdapter[Any], value: Any) -> str:
    return adapter.dump_json(value).decode()


def state_text(state: State) -> str:
    return _text(_STATE, state)


def state(text: str) -> State:
    return _STATE.validate_json(text)


def duty_text(duty: Duty) -> str:
    return _text(_DUTY, duty)


def duty(text: str | None) -> Duty | None:
    return None if text is None else _DUTY.validate_json(text)


def action_text(action: Action) -> str:
    return _text(_ACTION, action)


def action(text: str) -> Action:
    return _ACTION.validate_json(text)


def attachment_text(attachment: Attachment | None) -> str | None:
    return None if attachment is None else _text(_ATTACHMENT, attachment)


def attachment(text: str | None) -> Attachment | None:
    return None if text is None else _ATTACHMENT.validate_json(text)


def keyboard_text(keyboard: ShownKeyboard | None) -> str | None:
    return None if keyboard is None else _text(_KEYBOARD, keyboard)


def keyboard(text: str | None) -> ShownKeyboard | None:
    return None if text is None else _KEYBOARD.validate_json(text)


def buttons_text(rows: tuple[tuple[ShownButton, ...], ...]) -> str | None:
    return _text(_BUTTONS, rows) if rows else None


def buttons(text: str | None) -> tuple[tuple[ShownButton, ...], ...]:
    return () if text is None else _BUTTONS.validate_json(text)


def event_text(event: Event) -> str:
    """For events that could not be handled: kept whole, so that nothing is lost."""
    return _text(_EVENT, event)
