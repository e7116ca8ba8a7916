"""What Cuffbell knows about measuring blood pressure at home.

Values in, values out: no clock, no database, no chat library. Pressures are in mmHg,
pulse in beats per minute, moments are aware datetimes, days are the person's local days.
The only door for things that happen is `domain.conversation.respond`.
"""
