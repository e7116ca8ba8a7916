"""The platform: updates turned into what the desk takes, messages turned into calls."""

import os

# Spans of time as `timedelta`, which is the client library's coming way. It asks for the
# choice in the environment, and warns at every flood refusal without it.
os.environ.setdefault("PTB_TIMEDELTA", "true")
