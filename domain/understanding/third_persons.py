"""Wordings of the writer's own signs, told of somebody else: "no hablo bien", "no habla bien".

Where a language marks the person in its verbs and small words, the lexicon lists what the
first person becomes in the third (`third_person` in `lexicon/es_symptoms.toml`), so that the
wordings of the red flags need not be written twice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Self


@dataclass(frozen=True, slots=True)
class ThirdPerson:
    """What words of the first person become. Empty for a language without such a list."""

    verbs: Mapping[str, str]  #: a verb's form of the first person -> of the third
    owning: Mapping[str, str]  #: "my" -> "their"
    dative: Mapping[str, str]  #: "me" -> "to them"
    reflexive: Mapping[str, str]  #: the same word -> "themselves", beside a verb of theirs

    @classmethod
    def from_data(cls, data: Mapping[str, Mapping[str, str]]) -> Self:
        return cls(*(data.get(name, {}) for name in ("verbs", "owning", "dative", "reflexive")))

    def told(self, patterns: Iterable[str]) -> list[str]:
        """The patterns that say by their words that they are of a third person."""
        return [told for pattern in patterns if (told := self._told(pattern.split()))]

    def _told(self, items: Sequence[str]) -> str:
        """One pattern in the third person, or nothing where no word of it would tell."""
        turned = [self._turned(item) for item in items]
        acts = turned != items
        if not acts and self.dative.keys().isdisjoint(items):
            return ""
        return " ".join(self._small(item, acts=acts) for item in turned)

    def _turned(self, item: str) -> str:
        """An item with its verbs alone, in the third person; as it is where it has none.

        A form that stands there already tells nothing: the writer's arm may be its subject.
        """
        known = item.split("|")
        new = [now for one in known if (now := self._in_third(one)) not in known]
        return "|".join(dict.fromkeys(new)) or item

    def _in_third(self, alternative: str) -> str:
        words = alternative.split("_")
        if len(words) == 1:
            return self.verbs.get(alternative, alternative)
        acts = not self.verbs.keys().isdisjoint(words)
        small = self.reflexive if acts else self.dative
        return "_".join(self.verbs.get(word, small.get(word, word)) for word in words)

    def _small(self, item: str, *, acts: bool) -> str:
        if item in self.dative:
            both = (self.dative[item], self.reflexive[item]) if acts else (self.dative[item],)
            return "|".join(both)
        return "|".join(self.owning.get(one, one) for one in item.split("|"))
