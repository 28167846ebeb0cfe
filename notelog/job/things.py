"""Components as the ledger compares them: what is part of what, what stands for what, which rule means which."""

from __future__ import annotations

from notelog.job.places import Spot
from notelog.job.rules import Rules, Selector, rules_of
from notelog.job.sections import Thing
from notelog.lexicon.load import Lexicon, Term
from notelog.lexicon.words import normal
from notelog.models import Named

UNKNOWN = "unknown"
UNNAMED = "unnamed"
NOT_NAMED = "something not named"


class Things:
    """Components by key: the lexicon id, "unknown:<label>" for what is in no lexicon, "unnamed:<entry>" for what a note
    speaks of without a name."""

    def __init__(self, lexicon: Lexicon):
        self.lexicon = lexicon
        self.rules: Rules = rules_of(lexicon)
        self.terms: dict[str, Term] = lexicon.terms["component"]
        self.last_words = frozenset(term.label for term in lexicon.terms["fastener"].values())
        self._wholes: dict[str, tuple[str, ...]] = {}
        self._ranks: dict[tuple[int, str], int | None] = {}

    def key(self, named: Named) -> str:
        """What makes two components the same: the id, or the label of one in no lexicon."""
        return named.id if named.id in self.terms else self.unknown_key(named.label)

    @staticmethod
    def unknown_key(label: str) -> str:
        """The key of what is in no lexicon.

        >>> Things.unknown_key("Wibble  plate")
        'unknown:wibble plate'
        """
        return f"{UNKNOWN}:{normal(label)}"

    def thing(self, key: str) -> Thing:
        return Thing(id=UNKNOWN if self.term(key) is None else key, label=self.label(key))

    def term(self, key: str) -> Term | None:
        return self.terms.get(key)

    def label(self, key: str) -> str:
        term = self.term(key)
        if term is not None:
            return term.label
        kind, _, label = key.partition(":")
        return NOT_NAMED if kind == UNNAMED else label

    def system(self, key: str) -> str:
        term = self.term(key)
        return term.system if term else ""

    def sided(self, key: str) -> bool:
        """Whether it comes in left and right; what is in no lexicon may."""
        term = self.term(key)
        return term is None or term.sides

    def bought_in_sets(self, key: str) -> bool:
        """Whether it is bought for both sides of an axle, so that a part asked for without a side has none."""
        return key in self.rules.axle_sets

    def one_of_each_side(self, key: str, spot: Spot, two_said: bool = False) -> bool:
        """Whether there is one on the left and one on the right at the spot, so that both of them, or two, are these.

        With `two_said`, two were spoken of: then they are one on each side even where one side was said with them, unless
        two of it can be at one place (twin wheels).
        """
        row = self.rules.one_a_side.get(key)
        if row is None or (row.corner and spot.axle is None):
            return False
        return spot.side is None or (two_said and not row.twins)

    def same(self, key: str) -> str:
        """The key under which things that stand for each other are one (a door shell and the door)."""
        return self.rules.same_thing.get(key, key)

    def wholes(self, key: str) -> tuple[str, ...]:
        """What the component is part of, the nearest first, short of whole systems ("suspension")."""
        if key in self._wholes:
            return self._wholes[key]
        found: list[str] = []
        term = self.term(key)
        while term is not None and term.part_of and term.part_of not in self.rules.whole_systems:
            if term.part_of in found or term.part_of == key:
                break
            found.append(term.part_of)
            term = self.term(term.part_of)
        self._wholes[key] = tuple(found)
        return self._wholes[key]

    def belongs_to(self, key: str, whole: str) -> bool:
        """Whether the two are the same thing, or the first is part of the second."""
        wholes = {self.same(one) for one in (key, *self.wholes(key))}
        return self.same(whole) in wholes

    def related(self, one: str, other: str) -> bool:
        """The same thing, or one part of the other."""
        return self.belongs_to(one, other) or self.belongs_to(other, one)

    def is_fastener(self, key: str) -> bool:
        """Whether it is a nut, bolt or the like with a name of its own ("hub nut")."""
        return normal(self.label(key)).rpartition(" ")[2] in self.last_words

    def holder(self, key: str) -> str | None:
        """What a fastener with a name of its own holds."""
        wholes = self.wholes(key) if self.is_fastener(key) else ()
        return wholes[0] if wholes else None

    def many_said(self, named: Named | None) -> bool:
        """Whether the words for a component speak of more than one ("the drop links")."""
        last = normal(named.said).rpartition(" ")[2] if named is not None else ""
        return last.endswith("s") and not last.endswith("ss") and not self.label(self.key(named)).endswith("s")

    def torque_covers(self, torqued: str, key: str) -> bool:
        """Whether a torque said of one thing is the torque of another: itself, its nuts and bolts, what it is part of,
        or the whole system."""
        if self.is_fastener(torqued) and self.belongs_to(torqued, key):
            return True
        if torqued in self.rules.whole_systems:
            return self.system(torqued) == self.system(key)
        held = self.holder(torqued)
        return self.belongs_to(key, torqued) or (held is not None and self.belongs_to(key, held))

    def rank(self, selector: Selector, key: str) -> int | None:
        """How narrowly a selector means the component, None when it does not."""
        asked = (id(selector), key)
        if asked not in self._ranks:
            self._ranks[asked] = selector.rank(key, self.label(key), self.system(key))
        return self._ranks[asked]

    def meant(self, applies: Selector, excepted: Selector, key: str) -> bool:
        """Whether a rule applies to the component."""
        return self.rank(applies, key) is not None and self.rank(excepted, key) is None

    def torque_wanted(self, key: str) -> bool:
        """Whether a torque must be stated for it: of the rows that mean it the narrowest counts."""
        ranked = [(rank, row.wanted) for row in self.rules.torque if (rank := self.rank(row.applies, key)) is not None]
        return max(ranked, key=lambda pair: pair[0])[1] if ranked else False

    def circuit(self, key: str) -> str:
        """The fluid circuit that the component holds, by which its draining and its filling are one."""
        ranked = [(rank, name) for name, row in self.rules.circuits if (rank := self.rank(row, key)) is not None]
        return max(ranked, key=lambda pair: pair[0])[1] if ranked else ""
