"""Random values: ids, invitation codes and button tokens that nobody can guess."""

from __future__ import annotations

import hashlib
import secrets
from typing import Final

# Letters and digits that are hard to mistake for each other, all allowed in a deep link;
# a code never begins with a mark that a command line would take for an option.
_ALPHABET: Final = "abcdefghijkmnpqrstuvwxyz23456789"  # 32, so that every byte is fair
_LENGTH: Final = 20  # 100 bits


def fresh_value() -> str:
    """An id or a code: 20 letters and digits."""
    return "".join(_ALPHABET[byte % 32] for byte in secrets.token_bytes(_LENGTH))


def fresh_values(count: int) -> tuple[str, ...]:
    """Several of them, all different."""
    return tuple(fresh_value() for _ in range(count))


def button_token() -> str:
    """What the platform gives back when a button is pressed: 22 characters of 64 allowed."""
    return secrets.token_urlsafe(16)


def code_digest(code: str) -> str:
    """How a code is kept: who reads the database cannot use it."""
    return hashlib.sha256(code.strip().encode()).hexdigest()
