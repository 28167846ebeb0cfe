"""The component `notelog_relations`: which condition, action, size, reading, price and state belongs to what.

It leaves facts, in the order of the talk, in `doc._.talk.facts`; each knows the rule that made it. A statement is
looked for in its clause first (attribute, subject, object), then in what the clause's pronoun or silence stands for.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import load
from notelog.understanding.mentions import USUAL_OBJECT, talk_of
from notelog.understanding.places import _value, merged
from notelog.understanding.state import NOWHERE, PART_CUES, Clause, Mention, Place, Talk

MEASURES = {"mm", "cm", "in", "deg", "arcmin", "Nm", "lbft", "bar", "psi", "V", "ohm", "C", "F", "km", "mi", "l"}
MONEY = {"GBP", "USD", "EUR", "CAD", "AUD"}
UNIT_QUANTITY = {"Nm": "torque", "lbft": "torque", "bar": "pressure", "psi": "pressure", "V": "voltage", "ohm": "resistance",
                  "C": "temperature", "F": "temperature", "mi": "mileage", "km": "mileage", "l": "volume", "deg": "angle", "arcmin": "angle"}  # fmt: skip


@dataclass(slots=True, eq=False)
class Fact:
    """One statement of the talk about one thing, before it becomes an entry: `start:end` are word numbers."""

    kind: str
    value: str
    start: int
    end: int
    rule: str
    component: Mention | None = None
    place: Place = NOWHERE
    mention: Mention | None = None
    status: str = ""
    size: tuple[float, str] | None = None
    drive: str = ""
    count: int | None = None
    low: float = 0.0
    high: float = 0.0
    unit: str = ""
    flags: set[str] = field(default_factory=set)
    why: list[str] = field(default_factory=list)
    clause: int = 0
    probability: float = 0.0


@Language.factory("notelog_relations", requires=["doc._.talk"])
def make_relations(nlp: Language, name: str):
    """Factory of the component."""
    return Relations()


class Relations:
    """Leaves the facts of a Doc in `doc._.talk.facts`."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        linker = _Linker(talk)
        for number in range(len(talk.clauses)):
            linker.clause(number)
        talk.facts = linker.facts
        return doc


class _Linker:
    def __init__(self, talk: Talk):
        self.talk = talk
        self.words, self.at, self.groups = talk.words, talk.at, talk.lexicon.words
        self.facts: list[Fact] = []
        self.header = ""
        self.header_sentence = -1
        self.last_quantity = ""
        self.last_unit = ""
        self.used: set[int] = set()
        self.headed: set[int] = set()
        self.asking: dict[int, tuple[str, str]] = {}  # state and note of the first such form
        for mention in talk.mentions:
            for form in mention.forms:
                if form.tag == "header":
                    self.headed.add(id(mention))
                if form.kind in PART_CUES:
                    self.asking.setdefault(id(mention), (form.kind[4:], form.tag))

    # --- small questions ---

    def word(self, i: int) -> str:
        return self.words[i] if 0 <= i < len(self.words) else "."

    def back_over(self, i: int, low: int, also: tuple[str, ...] = ()) -> int:
        """The nearest word before i that is no adverb."""
        i -= 1
        while i >= low and (self.words[i] in self.groups["adverb"] or self.words[i] in also or self.words[i] == "a" and self.word(i + 1) in self.groups["a_bit"]) and (self.at[i] is None or self.at[i].kind not in ("component",)):
            i -= 1
        return i

    def things(self, clause: Clause) -> list[Mention]:
        return [m for m in clause.mentions if m.kind == "component" and "retracted" not in m.flags]

    def listed(self, clause: Clause, mention: Mention) -> list[Mention]:
        """The list that a component stands in, itself alone if in none."""
        if mention.kind == "fastener":
            return [fastener_component(mention)]
        if mention.group < 0:
            return [mention]
        return [m for m in clause.mentions if m.kind == "component" and m.group == mention.group]

    def antecedent(self, number: int) -> list[Mention]:
        """What a pronoun or silence at the clause's start stands for, with the list it stood in."""
        clause = self.talk.clauses[number]
        if clause.antecedent is None:
            return []
        return [clause.antecedent]

    def add(self, kind: str, value: str, rule: str, clause_number: int, mention: Mention, component: Mention | None, **more) -> Fact:
        start, end = span_of(mention, component)
        fact = Fact(kind, value, start, end, rule, component, mention=mention, clause=clause_number)
        if component is not None:
            fact.place = component.place
            fact.why += component.why
            fact.flags |= component.flags & {"retracted"}
        fact.flags |= mention.flags
        fact.why += mention.why
        for key, content in more.items():
            setattr(fact, key, content)
        self.facts.append(fact)
        return fact

    # --- one clause ---

    def clause(self, number: int) -> None:
        clause = self.talk.clauses[number]
        headers = [m for m in clause.mentions if id(m) in self.headed]
        for header in headers:
            nxt = self.word(header.end)
            if nxt == ":" or header.end >= clause.end or header.start == clause.start and header.end < clause.end and nxt in (":", "-") or nxt == "," and header.start == clause.start:
                self.header = next(f.kind[4:] for f in header.forms if f.tag == "header")
                self.header_sentence = clause.sentence
                header.flags.add("header")
        if clause.sentence > self.header_sentence + 8 or self.talk.breaks and clause.start in self.talk.breaks and clause.sentence != self.header_sentence and not headers and self.blank_before(clause.start):
            self.header = ""
        if clause.mentions and clause.end - clause.start <= 3 and self.word(clause.end - 1) == ":" and not headers and any(w in self.groups["other_header"] for w in self.words[clause.start:clause.end]):
            self.header = ""
        if not clause.mentions:
            return
        self.tools_and_fasteners(number, clause)
        self.quantities(number, clause)
        for mention in clause.mentions:
            if mention.kind == "condition":
                self.condition(number, clause, mention)
            elif mention.kind == "action":
                self.action(number, clause, mention)
            elif mention.kind == "material":
                self.material(number, clause, mention)
        self.parts(number, clause)
        self.same_again(number, clause)

    def blank_before(self, start: int) -> bool:
        if self.talk.heard is None or start == 0:
            return False
        gap = self.talk.heard.mapped.text[self.talk.ends[start - 1] : self.talk.starts[start]]
        return gap.count("\n") > 1

    # --- findings ---

    def condition(self, number: int, clause: Clause, cond: Mention) -> None:
        words = self.words
        if cond.id == "good" and self.is_chat(clause, cond):
            return
        if cond.id in ("good", "damaged", "play") and self.word(cond.end) in self.groups["good_in_phrase"]:
            return
        nxt = self.at[cond.end] if cond.end < len(self.words) else None
        if nxt is not None and nxt.kind == "quantity" and cond.id == "good" and nxt.end - 1 < clause.end and cond.tag == "pred" and self.word(cond.start - 1) in ("a", "the"):
            return
        lead = self.word(self.back_over(cond.start, clause.start, ("'ve", "have")))
        if lead in self.groups["doer"] and cond.tag in ("pred", "ed", "past", "part"):
            after = [m for m in self.things(clause) if 0 <= m.start - cond.end <= 4]
            if cond.id == "good" or not after:
                return
            for component in self.listed(clause, after[0]):
                self.add("finding", cond.id, "done to it", number, cond, component)
            return
        if not self.licensed(clause, cond) or self.second_choice(clause, cond):
            return
        found = self.subject(number, clause, cond)
        if cond.id == "damaged":
            lead = self.word(self.back_over(cond.start, clause.start))
            if cond.tag == "pred" and not (lead in self.groups["be"] or lead in self.groups["have"] or lead in self.groups["become"] or self.talk.terse or self.telegram(clause, cond)):
                return
            found = [(m, rule) for m, rule in found if rule in ("subject", "attribute", "noun of", "pronoun")]
        senses = self.talk.lexicon.condition_senses
        said = " ".join(words[cond.start : cond.end])
        for component, rule in found:
            term = self.talk.lexicon.terms["component"].get(component.id) if component is not None else None
            self.add("finding", senses.get((said, term.system if term is not None else ""), cond.id), rule, number, cond, component)

    def telegram(self, clause: Clause, cond: Mention) -> bool:
        """ "Nearside mirror damaged": only its bare part and a place stand before it."""
        i = self.back_over(cond.start, clause.start)
        while i >= clause.start and self.at[i] is not None and self.at[i].kind in ("component", "place"):
            i = self.at[i].start - 1
        return i < clause.start and self.word(clause.start - 1) in (".", "!", "?", ";")

    def second_choice(self, clause: Clause, cond: Mention) -> bool:
        """ "split or insecure": which of the two it is is not said, the first is taken. "No cracks or splits" denies both."""
        i = self.back_over(cond.start, clause.start)
        before = self.at[i - 1] if i > clause.start and self.words[i] == "or" else None
        return before is not None and before.kind == "condition" and not (before.flags or cond.flags)

    def licensed(self, clause: Clause, cond: Mention) -> bool:
        """Whether a plain English word ("straight", "dry", "gone", "play") stands as a statement here: after a copula, right after
        its component, before it as an attribute, or alone."""
        words, groups = self.words, self.groups
        if cond.end - cond.start > 2 or " ".join(words[cond.start : cond.end]) not in groups["plain_condition"]:
            return True
        i = self.back_over(cond.start, clause.start)
        while i >= clause.start and self.at[i] is not None and self.at[i].kind in ("cue:denied", "cue:doubted", "place", "quantity"):
            i = self.back_over(self.at[i].start, clause.start)
        if i < clause.start:
            return True
        lead = words[i]
        if lead in groups["be"] or lead in groups["have"] or lead in groups["become"] or lead in self.groups["before_plain_condition"] and (cond.tag == "noun" or lead not in ("a", "the", "of", "some", "any", "like")):
            return True
        before = self.at[i]
        if before is not None and before.kind in ("component", "fastener", "condition") and before.end == i + 1:
            return before.kind != "condition" or before.tag != "noun" or cond.tag == "noun"
        after = self.at[cond.end] if cond.end < len(words) else None
        return after is not None and after.kind == "component" and cond.tag != "noun"

    def is_chat(self, clause: Clause, cond: Mention) -> bool:
        """ "Okay, ...", "all right so": an opening, no finding."""
        word = self.words[cond.start]
        if word in self.groups["chat_word"]:
            if cond.start == clause.start and (self.word(cond.end) in self.groups["after_chat_word"] or clause.end - clause.start <= 2):
                before = self.word(cond.start - 1)
                return before in (".", "?", "!", ",", ":") or cond.start == 0 or not self.talk.punctuated
        return False

    def subject(self, number: int, clause: Clause, cond: Mention) -> list[tuple[Mention | None, str]]:
        words, groups = self.words, self.groups
        things = [m for m in clause.mentions if m.kind in ("component", "fastener") and "retracted" not in m.flags]
        before = [m for m in things if m.end <= cond.start]
        after = [m for m in things if m.start >= cond.end]
        lead_at = self.back_over(cond.start, clause.start)
        lead = words[lead_at] if lead_at >= clause.start else ""
        verbal = lead in groups["be"] or lead in groups["become"] or lead in groups["have"]
        # "a bent lower arm", "two snapped studs"
        if after and cond.tag != "noun":
            k = cond.end
            while k < after[0].start and (words[k] in groups["adjective"] or self.at[k] is not None and self.at[k].kind in ("place", "condition", "quantity") or words[k] in ("and", ",")):
                k += 1
            if k == after[0].start and not verbal and (not before or lead in groups["determiner"] or lead in groups["have"] or lead == "with" or self.at[lead_at] is not None and self.at[lead_at].kind == "quantity" and lead_at >= clause.start):
                return [(m, "attribute") for m in self.listed(clause, after[0])]
            if lead in groups["determiner"] and k == after[0].start:
                return [(m, "attribute") for m in self.listed(clause, after[0])]
        if cond.tag == "noun":
            link_at = cond.end
            while self.word(link_at) in groups["adverb"]:
                link_at += 1
            link = self.word(link_at)
            close = after[0] if after else None
            if close is not None and link in groups["attach"]:
                k = link_at + 1
                while k < close.start and (words[k] in groups["determiner"] or words[k] in groups["adjective"] or self.at[k] is not None and self.at[k].kind in ("place", "quantity")):
                    k += 1
                if k == close.start and not (before and before[-1].core and self.owns(before[-1], cond)):
                    return [(m, "noun of") for m in self.listed(clause, close)]
            # "wheel bearing noise", "the bearing has play"
        cores = [m for m in before if m.core]
        if cores:
            subject = cores[-1]
            rule = "pronoun" if self.has_pronoun(subject.end, cond.start) else "subject"
            return [(m, rule) for m in self.listed(clause, subject)]
        if cond.tag == "noun" and after and after[0].start - cond.end <= 6:
            return [(m, "noun near") for m in self.listed(clause, after[0])]
        if before and not self.has_pronoun(clause.start, cond.start):
            near = before[-1]
            explicit = self.other_subject(clause, cond)
            if explicit is None:
                if clause.antecedent is None or near.start - clause.start <= 4 and not verbal:
                    return [(m, "behind preposition") for m in self.listed(clause, near)]
        unknown = self.other_subject(clause, cond)
        if unknown is not None:
            return unknown
        if after and cond.tag != "noun" and not verbal and after[0].start - cond.end <= 3 and not self.has_pronoun(clause.start, cond.start):
            if after[0].core:
                return [(m, "attribute far") for m in self.listed(clause, after[0])]
        if clause.antecedent is not None:
            rule = "pronoun" if self.has_pronoun(clause.start, cond.start) else "carried over"
            if self.near(number):
                source = self.talk.clauses[clause.antecedent.clause]
                plural = self.word(cond.start - 1) in ("both", "all") or any(w in self.groups["plural_pronoun"] for w in words[clause.start : cond.start])
                members = self.listed(source, clause.antecedent) if plural else [clause.antecedent]
                return [(m, rule) for m in members]
        return []

    def near(self, number: int) -> bool:
        """Whether the clause's antecedent was said recently enough to be meant."""
        clause = self.talk.clauses[number]
        if clause.antecedent is None:
            return False
        source = self.talk.clauses[clause.antecedent.clause]
        if self.talk.punctuated:
            return clause.sentence - source.sentence <= (1 if self.talk.terse else 2)
        return number - clause.antecedent.clause <= 4

    def owns(self, thing: Mention, cond: Mention) -> bool:
        """ "the wing has a dent above the arch", "rack's got play in it": the subject has the condition."""
        return any(self.words[i] in self.groups["have"] or self.words[i] in self.groups["has_it"] for i in range(thing.end, cond.start))

    def has_pronoun(self, start: int, end: int) -> bool:
        return any(self.words[i] in self.groups["pronoun"] and self.at[i] is None for i in range(start, end))

    def other_subject(self, clause: Clause, cond: Mention) -> list[tuple[Mention | None, str]] | None:
        """A subject that is no component of the lexicon: [] when it is no part at all, an unknown component when it may
        be one, None when the clause has no subject of its own."""
        words, groups = self.words, self.groups
        low = max(clause.start, cond.start - 30)  # no list of conditions is longer
        i = self.back_over(cond.start, low)
        while i >= low and (words[i] in groups["auxiliary"] or words[i] in groups["become"] or words[i] in groups["have"] or words[i] in groups["adverb"]
                                     or self.at[i] is not None and self.at[i].kind in ("condition", "cue:denied", "cue:doubted", "cue:planned") or words[i] in ("and", ",", "a", "no", "not")):  # fmt: skip
            i -= 1
        if i < low or self.at[i] is not None and self.at[i].kind not in ("tool",):
            return None
        head = words[i]
        if head in groups["pronoun"] or head in groups["preposition"] or head in groups["conjunction"] or head in groups["determiner"] or head in groups["opener"] or not head[0].isalpha():
            return None
        if head in groups["self"] or head in groups["subject_pronoun"]:
            return [] if head in ("i", "we", "you", "he", "she") and cond.id != "good" else None
        if head in groups["not_a_part"]:
            return []
        begin = i
        while begin > clause.start and i - begin < 2 and self.at[begin - 1] is None and words[begin - 1][0].isalpha() and words[begin - 1] not in groups["determiner"] and words[begin - 1] not in groups["preposition"] \
                and words[begin - 1] not in groups["conjunction"] and words[begin - 1] not in groups["common_verb"] and words[begin - 1] not in groups["adjective"] and words[begin - 1] not in groups["auxiliary"] and words[begin - 1] not in groups["subject_pronoun"] and words[begin - 1] not in groups["opener"]:  # fmt: skip
            begin -= 1
        left = words[begin - 1] if begin > clause.start else ""
        if left in ("the", "its", "both") and cond.id not in ("good", "damaged", "play", "noisy", "contaminated", "seized", "worn", "loose", "deployed", "inoperative", "misaligned") and cond.tag == "pred" and head not in groups["common_verb"]:
            label = " ".join(words[begin : i + 1])
            ghost = Mention("component", "unknown", begin, i + 1, "name", label, cond.clause, place=clause.place)
            ghost.why.append("not in the lexicon")
            return [(ghost, "unknown subject")]
        return None if self.talk.terse else []

    # --- operations ---

    def action(self, number: int, clause: Clause, act: Mention) -> None:
        words, groups = self.words, self.groups
        things = self.things(clause)
        before = [m for m in things if m.end <= act.start]
        status = self.status(clause, act)
        if status is None:
            return
        found: list[tuple[Mention | None, str]] = []
        if act.tag == "noun":
            found = self.noun_object(number, clause, act, before, things)
            if found is None:
                return
        elif act.tag == "state":
            lead = self.word(self.back_over(act.start, clause.start))
            copula = lead in groups["be"] or lead in groups["become"] or lead in groups["have"]
            cores = [m for m in before if m.core]
            if cores and (copula or self.ends_clause(clause, act) and act.start - cores[-1].end <= 3):
                found = [(m, "state of subject") for m in self.listed(clause, cores[-1])]
            elif copula and self.has_pronoun(clause.start, act.start) and clause.antecedent is not None:
                found = [(clause.antecedent, "state of pronoun")]
            elif not before and act.start == clause.start and self.ends_clause(clause, act) and clause.antecedent is not None:
                found = [(clause.antecedent, "state carried over")]
            elif cores and words[act.start] in ("off", "out") and self.at[act.start] is act:
                return
        else:
            found = self.verb_object(number, clause, act, before, things)
        if act.tag == "state" and found and self.as_condition(number, clause, act, found):
            return
        if not found:
            default = USUAL_OBJECT.get(act.id)
            if default:
                found = [(self.ghost(default, act), "usual object")]
            elif act.id == "test" and act.tag == "noun" or act.id == "test" and words[act.start] == "road":
                found = [(None, "whole vehicle")]
            else:
                return
        for component, rule in found:
            if act.id == "align" and component is not None and component.id not in ("wheel_alignment",) and "lamp" not in component.label and "light" not in component.label and "radar" not in component.label and "camera" not in component.label:
                component, rule = self.ghost("wheel_alignment", act), "usual object"
            action = act.id
            if component is not None:
                term = self.talk.lexicon.terms["component"].get(component.id)
                verb = self.base_of(act)
                action = self.talk.lexicon.verb_senses.get((verb, term.system if term is not None else ""), act.id)
            holder = component.holder if component is not None and component.holder is not None and component.id == "unknown" else component
            self.add("operation", action, rule, number, act, holder, status=status)

    def as_condition(self, number: int, clause: Clause, act: Mention, found: list[tuple[Mention | None, str]]) -> bool:
        """Whether a state says a condition of its subject: "the brake light is out", where nothing else is done to it."""
        component, rule = found[0]
        term = self.talk.lexicon.terms["component"].get(component.id) if component is not None else None
        condition = self.talk.lexicon.condition_senses.get((" ".join(self.words[act.start : act.end]), term.system if term is not None else ""))
        near = [m for c in self.talk.clauses[max(0, number - 1) : number + 2] if c.sentence == clause.sentence for m in c.mentions]
        if condition is None or len(found) > 1 or not self.ends_clause(clause, act) or any(m is not act and m.kind in ("action", "fastener", "tool") for m in near):
            return False
        if self.word(self.back_over(act.start, clause.start)) not in ("is", "'s", "was"):
            return False
        self.add("finding", condition, "state of a lamp" if rule == "state of subject" else rule, number, act, component)
        return True

    def base_of(self, act: Mention) -> str:
        """The verb in its base form with its particle: "pulled ... out" is "pull out"."""
        word = self.words[act.start]
        for ending in ("ing", "ed", "s"):
            if word.endswith(ending) and len(word) > len(ending) + 2:
                word = word[: -len(ending)]
                break
        if act.particle >= 0:
            return f"{word} {self.words[act.particle]}"
        rest = " ".join(self.words[act.start + 1 : act.end])
        return f"{word} {rest}".strip()

    def ghost(self, component_id: str, near: Mention) -> Mention:
        term = self.talk.lexicon.terms["component"].get(component_id)
        label = term.label if term is not None else component_id.replace("_", " ")
        return Mention("component", component_id if term is not None else "unknown", near.start, near.end, "name", label, near.clause)

    def ends_clause(self, clause: Clause, act: Mention) -> bool:
        k = act.end
        while k < clause.end and (self.words[k] in self.groups["adverb"] or self.words[k] in (".", ",", "now", "already", ";")):
            k += 1
        return k >= clause.end

    def status(self, clause: Clause, act: Mention) -> str | None:
        """done, planned or not_done by the form of the verb and what stands before it; None for no statement."""
        words, groups = self.words, self.groups
        flags = act.flags
        if "not_done" in flags:
            return "not_done"
        i = self.back_over(act.start, clause.start)
        lead = words[i] if i >= clause.start else ""
        planned = "planned" in flags or "planned" in clause.flags or self.header == "planned"
        if act.tag == "noun":
            if planned or any(m.kind in ("cue:needed", "cue:planned") for m in clause.mentions):
                return "planned"
            if any(w in self.groups["work_was_done"] for w in words[clause.start : clause.end]):
                return "done"
            return "planned" if act.id in ("align", "calibrate", "paint", "test", "bleed") else None
        if act.tag == "state":
            return "planned" if planned and not (lead in groups["be"] and lead not in ("be", "being")) else "done"
        if act.tag in ("past", "ed", "part"):
            if planned:
                return "planned"
            return "done"
        if act.tag == "ing":
            if planned or lead in self.groups["need_doing"]:
                return "planned"
            if lead in self.groups["under_way"]:
                return "done"
            if lead in ("'ll", "be") or "be" in words[max(clause.start, act.start - 3) : act.start]:
                return "planned"
            return None if i >= 0 and words[i] in groups["determiner"] else "done"  # "the steering" is a noun
        if act.tag == "same":
            if planned or lead in self.groups["ahead_or_able"]:
                return "planned"
            return "done"
        # base and third person
        if planned or lead in self.groups["ahead"]:
            if lead == "to" and words[i - 1] in self.groups["before_to"] if i > 0 else False:
                return "done" if words[i - 1] in ("had", "managed", "able", "got") else "planned"
            return "planned"
        if lead in ("did", "and") and any(self.at[k] is not None and self.at[k].kind == "action" and self.at[k].tag in ("past", "ed") for k in range(clause.start, act.start)):
            return "done"
        if act.tag == "base" and self.talk.terse and (act.start == clause.start or lead in (":", "-", "&", "+", ",", "and", "then", "•", "*")):
            return "planned"
        if act.tag == "base" and lead in ("i", "we") or act.tag == "base" and act.start == clause.start:
            return "planned" if "tomorrow" in words[clause.start : clause.end] or self.header else None
        if act.tag == "s" and any(m.kind == "cue:planned" for m in clause.mentions):
            return "planned"
        return None

    def verb_object(self, number: int, clause: Clause, act: Mention, before: list[Mention], things: list[Mention]) -> list[tuple[Mention | None, str]]:
        words, groups = self.words, self.groups
        i = self.back_over(act.start, clause.start, ("to", "been"))
        lead = words[i] if i >= clause.start else ""
        cores_before = [m for m in before if m.core]
        if act.tag == "ing" and lead in ("is", "are", "'s", "'re") and cores_before and act.particle < 0 and act.end - act.start == 1 and self.talk.at[i - 1] is cores_before[-1]:
            return self.after_object(number, clause, act)  # "the steering is pulling" says what it does, not what is done to it
        passive = act.tag in ("ed", "part", "same") and lead in self.groups["passive_lead"] and not (lead == "'s" and self.word(i - 1) in ("he",))
        if act.tag == "ing" and lead in self.groups["need_doing"] and cores_before:
            return [(m, "subject of need") for m in self.listed(clause, cores_before[-1])]
        if act.tag == "ing" and lead in self.groups["need_doing"] and not cores_before:
            after = self.after_object(number, clause, act)
            if after:
                return after
            return [(clause.antecedent, "pronoun")] if clause.antecedent is not None else []
        if passive and cores_before:
            return [(m, "passive subject") for m in self.listed(clause, cores_before[-1])]
        if passive and self.has_pronoun(clause.start, act.start) and clause.antecedent is not None:
            return [(clause.antecedent, "pronoun")]
        after = self.after_object(number, clause, act)
        if after:
            return after
        if cores_before and (act.tag in ("ed", "part", "past", "same", "ing") or "planned" in act.flags):
            return [(m, "fronted object") for m in self.listed(clause, cores_before[-1])]
        if cores_before and act.tag in ("base", "s"):
            return [(m, "fronted object") for m in self.listed(clause, cores_before[-1])]
        if act.id in ("drain", "refill", "bleed"):
            fluid = next((m for m in clause.mentions if m.kind == "material"), None)
            system = self.talk.lexicon.fluid_systems.get(fluid.label or self.talk.lexicon.terms["material"][fluid.id].label) if fluid is not None else None
            if system:
                return [(self.ghost(system, fluid), "fluid's system")]
        prepositional = [m for m in things if m.start >= act.end]
        if prepositional and prepositional[0].start - act.end <= 6 and act.id not in ("align",):
            return [(m, "behind preposition") for m in self.listed(clause, prepositional[0])]
        if before and act.tag in ("ed", "part") and lead not in groups["self"]:
            return [(before[-1], "far subject")]
        if self.near(number):
            if self.has_pronoun(clause.start, act.start) and not passive and lead not in groups["self"]:
                return [(clause.antecedent, "pronoun")]
            if act.start == clause.start or lead in ("", "and", "then", "so", ",", "'ve", "i", "ive", "just", "have", "we", "&", "but", "only", "till", "until"):
                return [(clause.antecedent, "carried over")]
        return []

    def after_object(self, number: int, clause: Clause, act: Mention) -> list[tuple[Mention | None, str]]:
        words, groups, at = self.words, self.groups, self.at
        limit = act.particle if act.particle >= 0 else clause.end
        k = act.end
        fastener: Mention | None = None
        steps = 0
        while k < max(limit, act.end) or act.particle < 0 and k < clause.end:
            steps += 1
            if steps > 14:
                break
            mention = at[k]
            word = words[k]
            if mention is not None:
                if mention.kind == "component":
                    return [(m, "object") for m in self.listed(clause, mention)]
                if mention.kind == "fastener":
                    fastener = mention
                    k = mention.end
                    continue
                if mention.kind == "quantity" and mention.instead is not None:
                    k = mention.instead.start
                    continue
                if mention.kind in ("place", "quantity", "drive") or mention.kind == "condition" and mention.tag in ("pred", "ed", "part"):
                    k = mention.end
                    continue
                if mention.kind == "material":
                    system = self.talk.lexicon.fluid_systems.get(self.talk.lexicon.terms["material"][mention.id].label)
                    if act.id in ("drain", "refill", "bleed") and system:
                        return [(self.ghost(system, mention), "fluid's system")]
                    k = mention.end
                    break
                if mention.kind.startswith("cue:landmark"):
                    break
                break
            if word in groups["object_pronoun"] and not (word in ("that", "this", "these", "those", "both") and k + 1 < clause.end and (at[k + 1] is not None and at[k + 1].kind in ("component", "place", "fastener") or words[k + 1] in groups["adjective"])):
                source = clause.antecedent
                inside = [m for m in self.things(clause) if m.end <= act.start and m.core]
                target = inside[-1] if inside else source
                if target is not None:
                    plural = word in ("them", "both", "those", "these", "'em", "em")
                    members = self.listed(self.talk.clauses[target.clause], target) if plural else [target]
                    return [(m, "pronoun") for m in members]
                return []
            if word in groups["determiner"] or word in groups["adjective"] or word in groups["adverb"] or word in ("and", "of") and k == act.end:
                k += 1
                continue
            break
        if fastener is not None:
            owner = self.holder(number, clause, fastener)
            return [(owner if owner is not None else fastener_component(fastener), "what the fastener holds")]
        if act.particle >= 0:
            inner = [m for m in self.things(clause) if act.end <= m.start < act.particle]
            if inner:
                return [(m, "object") for m in self.listed(clause, inner[0])]
        return []

    def noun_object(self, number: int, clause: Clause, act: Mention, before: list[Mention], things: list[Mention]):
        near = next((m for m in reversed(before) if m.end == act.start), None)
        if near is not None:
            return [(near, "named work")]
        if self.word(act.end) in ("of", "on", "for", "to"):
            after = [m for m in things if m.start > act.end and m.start - act.end <= 4]
            if after:
                return [(m, "work on") for m in self.listed(clause, after[0])]
        if act.id in ("align", "test", "bleed"):
            return []
        cores = [m for m in before if m.core]
        if cores:
            return [(m, "subject of need") for m in self.listed(clause, cores[-1])]
        if clause.antecedent is not None and self.has_pronoun(clause.start, act.start):
            return [(clause.antecedent, "pronoun")]
        return None

    # --- fasteners and tools ---

    def holder(self, number: int, clause: Clause, fastener: Mention) -> Mention | None:
        """What a fastener holds: its own name, what follows "on", "at", "for", the subject, or what was talked about."""
        if fastener.holder is not None:
            return fastener.holder
        things = [m for m in self.things(clause) if m is not fastener]
        after = [m for m in things if m.start >= fastener.end and m.start - fastener.end <= 6]
        if after and self.word(fastener.end) in self.groups["holds"]:
            fastener.holder = after[0]
            return after[0]
        if fastener.kind == "component" and not fastener.tag == "one":
            return fastener
        before = [m for m in things if m.end <= fastener.start]
        if before:
            fastener.holder = before[-1] if before[-1].core or len(before) == 1 else next((m for m in reversed(before) if m.core), before[-1])
            return fastener.holder
        return clause.antecedent

    def tools_and_fasteners(self, number: int, clause: Clause) -> None:
        mentions = clause.mentions
        for n, mention in enumerate(mentions):
            if mention.kind == "tool":
                size = self.size_before(mention)
                fact = self.add("tool", mention.id, "named", number, mention, None, size=size)
                if size is None and not self.as_tool(clause, mention):
                    fact.flags.add("general")  # only the judge may take it for a tool
            elif mention.kind == "fastener" or mention.kind == "component" and mention.fastener:
                self.fastener(number, clause, mention)

    def as_tool(self, clause: Clause, tool: Mention) -> bool:
        """Whether a word that is also plain English ("stand", "cup", "bar") is a tool here: used, needed, or worked with."""
        if tool.end - tool.start > 1 or self.words[tool.start] not in self.groups["plain_tool"]:
            return True
        worked = any(m.kind == "action" and m.tag != "state" for m in clause.mentions)
        return worked or not self.groups["tool_context"].isdisjoint(self.words[max(clause.start, tool.start - 12) : tool.start])

    def size_before(self, thing: Mention) -> tuple[float, str] | None:
        """The size that stands right before a tool or fastener ("an 18 mil socket", "two T30 torx screws")."""
        i = thing.start - 1
        for _ in range(4):
            mention = self.at[i] if i >= 0 else None
            if mention is None:
                if i >= 0 and self.words[i] in self.groups["adjective"] | {"drive", "head", "-", "headed"}:
                    i -= 1
                    continue
                return None
            if mention.kind == "quantity" and mention.unit in ("mm", "in", "M", "T") and "retracted" not in mention.flags:
                self.used.add(id(mention))
                return (mention.low, mention.unit)
            if mention.kind == "quantity" and not mention.unit and 6 <= mention.low <= 41 and mention.low == int(mention.low) and "retracted" not in mention.flags:
                lead = self.at[mention.start - 1] if mention.start else None
                if self.word(mention.start - 1) in self.groups["before_bare_size"] or lead is not None and lead.kind == "quantity" and not lead.unit and lead.end == mention.start:
                    self.used.add(id(mention))
                    return (mention.low, "mm")
            if mention.kind in ("drive", "place"):
                i = mention.start - 1
                continue
            return None
        return None

    def fastener(self, number: int, clause: Clause, mention: Mention) -> None:
        words, at = self.words, self.at
        kind = mention.id if mention.kind == "fastener" else mention.fastener
        size = self.size_before(mention)
        drive = ""
        count = None
        i = mention.start - 1
        for _ in range(5):
            if i < clause.start:
                break
            other = at[i]
            if other is not None and other.kind == "drive":
                drive = other.id
                i = other.start - 1
            elif other is not None and other.kind == "quantity":
                corrected = next((m for m in clause.mentions if m.instead is other), None)
                if corrected is not None:
                    i = corrected.start - 1
                    continue
                if not other.unit and other.low == int(other.low) and 1 <= other.low <= 60:
                    count = int(other.low)
                    self.used.add(id(other))
                    break
                i = other.start - 1
            elif other is None and (words[i] in self.groups["adjective"] or words[i] in ("x", "of", "off")):
                if words[i] in ("couple", "pair"):
                    count = 2
                i -= 1
            elif words[i] in ("one", "a", "single") and size is not None:
                count = 1 if words[i] != "a" else None
                break
            else:
                break
        if size is None:
            k = mention.end
            limit = clause.end
            nxt_clause = self.talk.clauses[number + 1] if number + 1 < len(self.talk.clauses) else None
            if nxt_clause is not None and nxt_clause.sentence == clause.sentence and at[nxt_clause.start] is not None and at[nxt_clause.start].kind == "quantity" and not any(m.kind in ("component", "fastener") for m in nxt_clause.mentions):
                limit = nxt_clause.end
            for _ in range(6):
                if k >= limit:
                    break
                other = at[k]
                if other is not None and other.kind == "quantity":
                    if other.instead is not None:
                        k = other.instead.start
                        continue
                    if other.unit in ("mm", "in", "M", "T") and "retracted" not in other.flags and other.unit != "" and not self.measured(other, mention):
                        size = (other.low, other.unit)
                        self.used.add(id(other))
                        break
                    adjacent = other.start == mention.end or words[other.start - 1] in ("(", ":") and other.start - mention.end <= 2
                    closed = self.word(other.end) in (",", ".", ")", ";", ":", "and", "mm") or other.end in self.talk.breaks or other.end >= clause.end
                    if not other.unit and 5 <= other.low <= 50 and other.low == int(other.low) and (words[other.start - 1] in self.groups["before_own_size"] or adjacent and closed) and "retracted" not in other.flags and self.word(other.end) not in ("of",):
                        size = (other.low, "mm")
                        self.used.add(id(other))
                        break
                    if "retracted" in other.flags or not other.unit:
                        k = other.end
                        continue
                    break
                if other is not None and other.kind in ("drive",):
                    drive = drive or other.id
                    k = other.end
                    continue
                if other is not None and other.kind in ("component", "place", "cue:landmark") and k > mention.end and words[other.start - 1] in self.groups["before_a_place"]:
                    k = other.end
                    continue
                if other is not None and other.kind.startswith("cue:correction") or words[k] in self.groups["before_far_size"]:
                    k += 1
                    continue
                break
        if size is not None and size[1] == "T" and not drive:
            drive = "torx"
        if mention.kind == "component" and size is None and not drive and count is None:
            worked = False
        else:
            worked = size is not None or bool(drive) or count is not None
        if not worked and kind in ("circlip", "pin", "rivet", "clamp", "clip") and mention.kind == "fastener" and any(m.kind == "action" for m in clause.mentions):
            worked = True
        state = any(m.kind == "condition" and m.id in ("stripped", "broken", "seized", "corroded", "missing", "bent") for m in clause.mentions)
        if not worked and mention.kind == "fastener" and state:
            worked = True
        if mention.kind == "component" and not worked:
            return
        owner = self.holder(number, clause, mention)
        if not worked:
            return
        self.add("fastener", kind, "named", number, mention, owner, size=size, drive=drive, count=count)
        self.more_sizes(number, clause, mention, kind, owner)

    def more_sizes(self, number: int, clause: Clause, mention: Mention, kind: str, owner: Mention | None) -> None:
        """ "two 17s and a 19": the sizes that follow the first one belong to fasteners of the same kind."""
        last = max((m for m in clause.mentions if m.kind == "quantity" and id(m) in self.used and m.start >= mention.start - 3), key=lambda m: m.start, default=None)
        if last is None:
            return
        k = max(last.end, mention.end if last.end <= mention.start else last.end)
        for _ in range(8):
            if k >= clause.end:
                return
            other = self.at[k]
            if other is not None and other.kind == "quantity" and id(other) not in self.used and "retracted" not in other.flags:
                sized = other.unit in ("mm", "M", "T") or not other.unit and 6 <= other.low <= 41 and other.low == int(other.low) and self.word(k - 1) in ("a", "an", "single", "one")
                nxt = self.at[other.end] if other.end < len(self.words) else None
                if not sized or nxt is not None and nxt.kind in ("fastener", "tool", "component"):
                    return
                self.used.add(id(other))
                self.add("fastener", kind, "further size", number, other, owner, size=(other.low, other.unit or "mm"), drive="torx" if other.unit == "T" else "")
                k = other.end
                continue
            if other is None and self.words[k] in self.groups["between_sizes"]:
                k += 1
                continue
            if other is not None and other.kind in ("place", "cue:landmark", "component") and self.word(k - 1) in ("the", "at", "on"):
                k = other.end
                continue
            return

    def measured(self, quantity: Mention, near: Mention) -> bool:
        """Whether a length is a reading ("play, 2 mm") and no size."""
        return any(self.at[i] is not None and self.at[i].kind == "quantity_word" for i in range(near.end, min(len(self.words), quantity.end + 3)))

    # --- readings, times, prices ---

    def quantities(self, number: int, clause: Clause) -> None:
        for n, mention in enumerate(clause.mentions):
            if mention.kind == "quantity_word":
                self.last_quantity, self.quantity_clause = mention.id, number
            if mention.kind != "quantity" or id(mention) in self.used or "retracted" in mention.flags:
                continue
            if mention.unit == "h":
                self.labour(number, clause, mention)
            elif mention.unit in MONEY:
                self.cost(number, clause, mention)
            elif mention.unit in MEASURES:
                self.measurement(number, clause, mention)
            elif mention.unit == "" and self.last_quantity in ("camber", "caster", "toe", "thickness", "gap", "runout") and number - getattr(self, "quantity_clause", -9) <= 2:
                text = self.words[mention.start]
                nxt = self.at[mention.end] if mention.end < len(self.words) else None
                if ("." in text or text.startswith("-")) and (nxt is None or nxt.kind not in ("component", "fastener", "material")):
                    mention.unit = self.last_unit or "deg"
                    if mention.unit in MEASURES:
                        self.measurement(number, clause, mention)

    def labour(self, number: int, clause: Clause, mention: Mention) -> None:
        text = " ".join(self.words[max(0, clause.start - 6) : clause.end + 1])
        near = " ".join(self.words[mention.start - 5 if mention.start >= 5 else 0 : min(clause.end + 4, mention.end + 9)])
        padded = f" {near} "
        if any(f" {w} " in padded for w in self.groups["time_other"]):
            return
        spent = any(f" {w} " in f" {text} {near} " for w in self.groups["time_spent"])
        alone = clause.end - clause.start <= 5 or self.talk.terse
        if mention.high < 0.25 and not spent:
            return
        last = next((f for f in reversed(self.facts) if f.kind == "labour"), None)
        if last is not None and number - last.clause <= 1 and any(w in self.groups["time_again"] for w in self.words[last.end : mention.start]):
            last.flags.add("retracted")
        self.add("labour", "hours", "time spent" if spent or alone else "time", number, mention, None, low=mention.low, high=mention.high)

    def cost(self, number: int, clause: Clause, mention: Mention) -> None:
        things = self.things(clause)
        before = [m for m in things if m.end <= mention.start]
        after = [m for m in things if m.start >= mention.end]
        if after and self.word(mention.end) in ("for", "on", "each"):
            owner = after[0]
        elif before:
            owner = before[-1]
        else:
            owner = clause.antecedent or (after[0] if after else None)
        self.add("cost", mention.unit, "price", number, mention, owner, low=mention.low)

    def measurement(self, number: int, clause: Clause, mention: Mention) -> None:
        words, at = self.words, self.at
        nxt = at[mention.end] if mention.end < len(words) else None
        if mention.unit in ("mm", "in", "cm") and nxt is not None and nxt.kind in ("fastener", "tool", "drive") or self.word(mention.end) in ("head", "drive", "heads", "drill", "hole", "holes"):
            if nxt is not None and nxt.kind == "tool":
                return
            if self.word(mention.end) in ("head", "heads") and clause.antecedent is not None:
                owner = next((m for m in reversed(clause.mentions) if m.kind in ("fastener", "component") and m.end <= mention.start), clause.antecedent)
                kind = owner.fastener or (owner.id if owner.kind == "fastener" else "") or "bolt"
                self.add("fastener", kind, "head size", number, mention, owner, size=(mention.low, mention.unit))
            return
        quantity = UNIT_QUANTITY.get(mention.unit, "")
        named = [m for m in clause.mentions if m.kind == "quantity_word"]
        conditions = [m for m in clause.mentions if m.kind == "condition" and m.id == "play"]
        close = min(named, key=lambda m: abs(m.start - mention.start) - (0.5 if m.start < mention.start else 0), default=None)
        things = self.things(clause)
        if quantity in ("torque", "pressure", "voltage", "resistance", "temperature", "mileage", "volume"):
            pass
        elif close is not None:
            quantity = close.id
        elif mention.unit in ("deg", "arcmin"):
            quantity = self.last_quantity if self.last_quantity in ("camber", "caster", "toe") and number - getattr(self, "quantity_clause", -9) <= 4 else "angle"
        elif conditions:
            quantity = "play"
        else:
            owner = things[-1] if things else clause.antecedent
            label = owner.label if owner is not None else ""
            if any(word in label for word in ("pad", "disc", "rotor", "shoe", "lining")):
                quantity = "thickness"
            elif "tyre" in label or "tire" in label:
                quantity = "depth"
            elif self.last_quantity and number - getattr(self, "quantity_clause", -9) <= 2 and self.last_unit == mention.unit:
                quantity = self.last_quantity
            else:
                quantity = "length"
        if quantity in ("torque", "pressure", "voltage", "resistance") and mention.unit in ("mm", "in", "cm", "deg"):
            quantity = "angle" if mention.unit == "deg" else "length"
        if quantity in ("camber", "caster") and mention.unit in ("mm", "in", "cm"):
            quantity = "length"
        self.last_quantity, self.quantity_clause, self.last_unit = quantity, number, mention.unit
        before = [m for m in things if m.end <= mention.start]
        after = [m for m in things if m.start >= mention.end]
        owner = None
        if quantity not in ("camber", "caster", "toe"):
            cores = [m for m in before if m.core] or before
            if cores:
                owner = cores[-1]
            elif after and self.word(mention.end) in self.groups["measured_on"]:
                owner = after[0]
            else:
                owner = clause.antecedent or (after[0] if after else None)
        if owner is not None and owner.id == "unknown" and owner.holder is not None:
            owner = owner.holder
        fact = self.add("measurement", quantity, "reading", number, mention, owner, low=min(mention.low, mention.high), high=max(mention.low, mention.high), unit=mention.unit)
        local = next((m for m in reversed(clause.mentions) if m.kind == "place" and m.end <= mention.start), None) or next((m for m in clause.mentions if m.kind == "place" and m.start >= mention.end and m.start - mention.end <= 4), None)
        if local is not None:
            place = _value(self.talk, local, clause.place)
            fact.place = merged(place, fact.place if owner is not None else clause.place)
        elif owner is None:
            fact.place = clause.place if quantity in ("camber", "caster") else NOWHERE
        if quantity == "torque":
            self.torque(number, clause, mention, fact)

    def torque(self, number: int, clause: Clause, mention: Mention, reading: Fact) -> None:
        """A torque figure is an operation too, unless the clause's own verb already says so."""
        words = self.words
        verb = next((m for m in clause.mentions if m.kind == "action" and m.id in ("torque", "tighten")), None)
        planned = any(w in self.groups["torque_ahead"] for w in words[clause.start : mention.start]) or self.header == "planned"
        done = any(w in self.groups["torque_done"] for w in words[clause.start : mention.end]) and not any(w in ("be", "will", "'ll", "gets", "get", "needs") for w in words[clause.start : mention.start])
        if verb is not None and verb.id == "torque":
            return
        if verb is not None:
            verb.id = "torque"
            return
        later = " ".join(words[mention.end : min(len(words), mention.end + 8)])
        planned = planned or later.startswith(("when", "once", "on reassembly", "to go", "dry", "after")) or "to do" in " ".join(words[max(0, clause.start - 12) : clause.start])
        status = "planned" if planned and not done else "done"
        act = Mention("action", "torque", mention.start, mention.end, "ed", clause=mention.clause)
        act.flags = set(mention.flags)
        self.add("operation", "torque", "torque figure", number, act, reading.component, status=status)

    # --- parts and materials ---

    def material(self, number: int, clause: Clause, mention: Mention) -> None:
        if mention.id not in self.talk.lexicon.terms["material"]:
            return  # only the judge makes statements of it
        words = self.words
        link = self.word(mention.start - 1)
        near = [m for m in clause.mentions if m.kind == "condition" and m.id in ("contaminated", "leaking", "missing") and -3 <= mention.start - m.end <= 3]
        if near or link in ("lost", "losing", "no"):
            return
        if link in ("in", "with") and any(m.kind == "condition" and m.end <= mention.start and mention.start - m.end <= 3 for m in clause.mentions):
            return
        if any(m.kind == "action" and m.id in ("drain",) for m in clause.mentions):
            return
        if self.word(mention.end) in self.groups["fluid_lost"] and self.talk.lexicon.fluid_systems.get(self.talk.lexicon.terms["material"][mention.id].label):
            return
        label = self.talk.lexicon.terms["material"][mention.id].label
        if label in self.groups["need_context"] or " ".join(words[mention.start : mention.end]) in self.groups["need_context"]:
            used = any(m.kind == "action" and m.tag not in ("state",) for m in clause.mentions) or any(m.kind in ("cue:needed", "cue:ordered") for m in clause.mentions)
            if not used and link not in ("with", "w/"):
                return
        self.add("material", mention.id, "named", number, mention, None)

    def parts(self, number: int, clause: Clause) -> None:
        cues = [(mention, *self.asking[id(mention)]) for mention in clause.mentions if id(mention) in self.asking]
        if not cues and self.header != "needed":
            return
        things = self.things(clause)
        words = self.words
        if cues and self.word(cues[-1][0].end) == ":" and cues[-1][0].end + 1 >= clause.end:
            cue, state, _ = cues.pop()
            self.list_after(number, cue, state)
        for cue, state, note in cues:
            if "header" in cue.flags and note != "object":
                continue
            nxt = self.at[cue.end] if cue.end < len(words) else None
            if state == "needed" and nxt is not None and nxt.kind == "action" and nxt.tag in ("ing", "ed", "part", "same", "noun") or state == "needed" and self.word(cue.end) in ("to", "doing"):
                continue
            if state == "needed" and note == "object" and any(m.kind == "action" and m.tag in ("ing",) and 0 <= m.start - cue.end <= 5 for m in clause.mentions):
                continue
            after = [m for m in things if m.start >= cue.end]
            before = [m for m in things if m.end <= cue.start]
            if note == "terse" and not (self.talk.terse or before and words[cue.start - 1] in self.groups["be"] or "now" in words[clause.start : clause.end]):
                continue
            if note == "imperative" and not (cue.start == clause.start and self.talk.terse):
                continue
            objects: list[Mention] = []
            denied = any(m.kind == "cue:denied" and m.end <= cue.start and cue.start - m.end <= 3 for m in clause.mentions)
            if denied:
                continue
            if note in ("object", "imperative", "weak") or note == "either" and after and not before:
                objects = self.first_list(after, cue.end)
                cores = [m for m in before if m.core]
                lead = self.word(self.back_over(cue.start, clause.start, ("'ll", "'d", "'ve", "will")))
                if not objects and cores and (lead in self.groups["self"] or lead == "," or self.at[cue.start - 1] is cores[-1]):
                    objects = self.chain(clause, cores)
                if not objects and note == "object" and any(words[k] in self.groups["some_of_it"] for k in range(cue.end, min(clause.end, cue.end + 4))) and (clause.antecedent is not None or before):
                    objects = [before[-1] if before else clause.antecedent]
            else:
                cores = [m for m in before if m.core or note == "either"]
                if cores:
                    objects = self.chain(clause, cores)
                elif after and note == "either":
                    objects = self.first_list(after, cue.end)
                elif self.near(number) and not before and (self.has_pronoun(clause.start, cue.start) or cue.start - clause.start <= 2 or any(words[k] in ("one", "ones", "another") for k in range(clause.start, cue.end))):
                    objects = [clause.antecedent]
                elif before:
                    objects = [before[-1]]
            for thing in objects:
                self.part(number, clause, cue, thing, state)
        if self.header == "needed" and not cues and things:
            for thing in things:
                if thing.core:
                    self.part(number, clause, thing, thing, "needed")

    def list_after(self, number: int, cue: Mention, state: str) -> None:
        """ "Ordered: radiator, fan and two clips." gives each of the line's things that state, up to the next such word."""
        clauses = self.talk.clauses
        for later in range(number + 1, len(clauses)):
            clause = clauses[later]
            if clause.sentence != clauses[number].sentence or any(form.kind in PART_CUES for m in clause.mentions for form in m.forms if m.start > clause.start):
                break
            for thing in self.things(clause):
                if thing.core:
                    self.part(later, clause, cue, thing, state)

    def first_list(self, after: list[Mention], start: int) -> list[Mention]:
        """The list of components right behind a cue, before any "for the ..." that only says what they are for."""
        objects: list[Mention] = []
        for mention in after:
            if not mention.core and objects or not mention.core and mention.start - start > 2:
                break
            objects.append(mention)
        return objects

    def chain(self, clause: Clause, cores: list[Mention]) -> list[Mention]:
        last = cores[-1]
        members = self.listed(clause, last)
        return members

    def part(self, number: int, clause: Clause, cue: Mention, thing: Mention, state: str) -> None:
        count = self.count(clause, thing)
        self.add("part", state, "asked for" if state == "needed" else state, number, cue, thing, status=state, count=count)

    def count(self, clause: Clause, thing: Mention) -> int:
        words, at = self.words, self.at
        i = thing.start - 1
        for _ in range(5):
            if i < 0:
                break
            mention = at[i]
            if mention is not None and mention.kind == "quantity":
                if mention.unit == "" and mention.low == int(mention.low) and 1 <= mention.low <= 100 and self.word(i + 1) != "speed":
                    return int(mention.low)
                i = mention.start - 1
            elif mention is not None and mention.kind in ("place", "drive", "condition"):
                i = mention.start - 1
            elif mention is None and words[i] in ("pair", "couple"):
                return 2
            elif mention is None and (words[i] in self.groups["adjective"] or words[i] in ("of", "x", "off", "both")):
                if words[i] == "both":
                    return 2
                i -= 1
            else:
                break
        k = thing.end
        for _ in range(5):
            if k >= clause.end:
                break
            mention = at[k]
            if mention is not None and mention.kind == "quantity" and mention.unit == "":
                of_next = mention.end
                while of_next < clause.end and (words[of_next] in self.groups["adjective"] or at[of_next] is not None and at[of_next].kind == "place"):
                    of_next += 1
                counts_next = of_next < clause.end and at[of_next] is not None and at[of_next].kind in ("component", "fastener", "material")
                if mention.low == int(mention.low) and 1 <= mention.low <= 100 and self.word(mention.end) not in (":",) and not counts_next:
                    return int(mention.low)
                break
            if words[k] in self.groups["before_count"] or mention is not None and mention.kind == "place":
                if words[k] == "both":
                    return 2
                k += 1
                continue
            break
        return 2 if thing.place[0] == "both" else 1

    # --- "same again on the other side", "the hub as well" ---

    def same_again(self, number: int, clause: Clause) -> None:
        words = self.words
        cue = next((m for m in clause.mentions if m.kind == "cue:reference"), None)
        things = self.things(clause)
        if cue is None and not things:
            return
        conditions = [m for m in clause.mentions if m.kind in ("condition", "action")]
        if cue is not None and not conditions:
            findings = [f for f in self.facts[-60:] if f.kind == "finding" and not f.flags & {"hypothetical", "general", "other_vehicle", "retracted"}]
            if not findings:
                return
            last = findings[-1]
            if things:
                for thing in things:
                    self.copy(last, number, clause, thing, thing.place if thing.placed else clause.place)
                return
            flip = {"left": "right", "right": "left"}
            sentence = self.talk.clauses[last.clause].sentence
            source_place = last.place[0]
            group = [f for f in findings if f.place[0] == source_place and self.talk.clauses[f.clause].sentence >= sentence - 1]
            side = clause.place[0] if clause.place[0] and clause.place[0] != source_place else flip.get(source_place, "")
            for each in group[-4:]:
                if each.component is not None:
                    self.copy(each, number, clause, each.component, (side, each.place[1], each.place[2], each.place[3]))
            return
        if not things or conditions or not number:
            return
        also = any(w in ("too", "likewise", "also") for w in words[clause.start : clause.end]) or "as well" in " ".join(words[clause.start : clause.end])
        if also and not any(m.kind in PART_CUES for m in clause.mentions):
            recent = [f for f in self.facts[-30:] if f.kind == "finding" and f.clause >= number - 2 and not f.flags & {"hypothetical", "general", "other_vehicle", "retracted"}]
            if recent and things[0].core:
                fact = self.copy(recent[-1], number, clause, things[0], things[0].place)
                fact.flags.discard("denied")
                fact.flags |= things[0].flags & {"doubted", "hypothetical", "general", "other_vehicle"}

    def copy(self, fact: Fact, number: int, clause: Clause, component: Mention, place: Place) -> Fact:
        twin = Fact(fact.kind, fact.value, clause.start, clause.end, "same again", component, place, fact.mention, fact.status, clause=number)
        twin.flags = set(fact.flags)
        self.facts.append(twin)
        return twin


def span_of(trigger: Mention, component: Mention | None) -> tuple[int, int]:
    """The words of a statement: its trigger with its particle, and the component where that stands in the same clause."""
    start, end = trigger.start, max(trigger.end, trigger.particle + 1)
    if component is not None and component.clause == trigger.clause:
        start, end = min(start, component.start), max(end, component.end)
    return start, end


def fastener_component(fastener: Mention) -> Mention:
    """A bare fastener as the component of a statement about it."""
    return Mention("component", "unknown", fastener.start, fastener.end, fastener.tag, fastener.id, fastener.clause, place=fastener.place)
