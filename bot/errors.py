"""Errors whose text is shown to the host as it stands: what was wrong, what to do.

They carry no reading, no name and no token, because they end on a screen or in a log.
"""

from __future__ import annotations


class CuffbellError(Exception):
    """Base of the shell's own errors. The text is one line for the host."""


class SettingsError(CuffbellError):
    """A setting is missing or malformed. The text names the variable."""


class TokenMissingError(SettingsError):
    """No token is set, and the command needs one."""

    def __init__(self) -> None:
        super().__init__(
            "CUFFBELL_TELEGRAM_TOKEN is not set. Set it to the token of your bot, "
            "or run `cuffbell try`, which needs none."
        )


class HealthAddressError(CuffbellError):
    """The health server cannot listen where CUFFBELL_HEALTH says."""

    def __init__(self, port: int) -> None:
        super().__init__(
            f"Nobody can listen at CUFFBELL_HEALTH (port {port}): it is in use, or not an "
            "address of this machine. Choose another one, or leave it out."
        )


class TokenRefusedError(CuffbellError):
    """The platform does not know the token. The token itself is never in the text."""

    def __init__(self) -> None:
        super().__init__(
            "The platform refused the token in CUFFBELL_TELEGRAM_TOKEN. "
            "Copy it anew from the bot that manages your bots, whole and without spaces."
        )
