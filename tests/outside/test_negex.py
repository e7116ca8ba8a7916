"""The trigger phrases of NegEx, tried on symptoms.

Source: Chapman, Bridewell, Hanbury, Cooper, Buchanan, "A simple algorithm for identifying
negated findings and diseases in discharge summaries", J Biomed Inform 2001;34:301, and the
trigger lists published with it. The phrases are given here from memory. Those that only a
clinician writes ("unremarkable for") are tried too, since people copy out letters.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.understanding import understand

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)

PRE_NEGATION = (
    "absence of", "declines", "declined any", "denied", "denies", "denying",
    "did not exhibit", "evaluate for no", "free of", "had no", "has no", "have no", "negative for",
    "never developed", "never had", "no", "no abnormal", "no cause of", "no complaints of",
    "no evidence of", "no new", "no evidence for", "no new evidence of", "no other evidence of",
    "no findings of", "no findings to indicate", "no history of", "no increased", "no sign of",
    "no signs of", "no significant", "no suggestion of", "no suspicious", "not", "not any",
    "not appreciate any", "not associated with", "not complain of", "not demonstrate",
    "not exhibit", "not feel", "not had", "not have", "not know of any", "not known to have",
    "not reveal", "not see", "not to be any", "patient was not having", "rather than",
    "resolved", "rules out", "ruled out", "ruled out for", "test for came back negative for",
    "unremarkable for", "with no", "without", "without any evidence of", "without evidence of",
    "without indication of", "without sign of", "nor any", "neither", "lack of", "lacked any",
)  # fmt: skip

POST_NEGATION = (
    "unlikely",
    "was ruled out",
    "has been ruled out",
    "is ruled out",
    "free",
    "absent",
)

PSEUDO_NEGATION = (
    "no increase in", "no change in", "no significant change in", "no interval change in",
    "no definite change in the", "not certain if it is", "not certain whether this is",
    "gram negative and", "not necessarily", "not only", "without difficulty but", "not drain but",
    "no improvement in the", "no relief from the", "no let up in the", "no better with the",
)  # fmt: skip

TERMINATION = (
    "but", "however", "nevertheless", "yet", "though", "although", "still", "aside from",
    "except", "apart from", "secondary to", "because of",
)  # fmt: skip


@pytest.mark.parametrize("trigger", PRE_NEGATION)
def test_a_phrase_before_the_symptom_denies_it(trigger: str) -> None:
    assert understand(f"{trigger} dizziness", NOW).symptoms == ()


@pytest.mark.parametrize("trigger", POST_NEGATION)
def test_a_phrase_after_the_symptom_denies_it(trigger: str) -> None:
    assert understand(f"dizziness {trigger}", NOW).symptoms == ()


@pytest.mark.parametrize("trigger", PSEUDO_NEGATION)
def test_a_phrase_that_only_looks_like_denial_denies_nothing(trigger: str) -> None:
    assert understand(f"{trigger} headache", NOW).symptoms == ("headache",)


@pytest.mark.parametrize("word", TERMINATION)
def test_a_conjunction_ends_the_reach_of_a_denial(word: str) -> None:
    assert "dizziness" in understand(f"no chest pain {word} dizziness", NOW).symptoms
