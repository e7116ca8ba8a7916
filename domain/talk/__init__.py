"""The rooms behind `domain.conversation.respond`: what is said, asked and told, and when.

Every room takes a `Turn` (what one event leads to, while it is worked out) and adds to it.
They know each other in one direction: what a person writes (`own_talk`, `contact_talk`,
`lobby`) leads to alarms (`escalation`, `alarm_answers`) and occasions (`coaching`), and
these to words (`alarm_words`, `replies`).
"""
