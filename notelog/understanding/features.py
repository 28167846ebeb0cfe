"""What can be said of a statement and a thing that it may be about, for the learnt judge.

`candidates` lists every pair of a trigger (a condition, an action, a word that asks for a part) with a component near
it, or with none, and the features of each: short strings, most of them what the rules' components left in the Talk.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from notelog.understanding.relations import Fact
from notelog.understanding.state import Mention, Talk

BEFORE, AFTER = 8, 4  # components looked at on either side of a trigger
WORDS_BEFORE, WORDS_AFTER = 60, 14
_PART_CUES = ("cue:needed", "cue:ordered", "cue:on_hand")
_DISTANCE = (0, 1, 2, 3, 4, 6, 9, 14, 22, 40)
_SHOWN_FLAGS = ("denied", "doubted", "hypothetical", "general", "other_vehicle", "planned", "not_done")


@dataclass(slots=True, eq=False)
class Candidate:
    """A trigger and what it may be about; `fact` is the rules' own statement of this pair, if they made one."""

    kind: str
    trigger: Mention
    value: str
    component: Mention | None
    fact: Fact | None
    features: list[str] = field(default_factory=list)


def _bucket(distance: int) -> str:
    for limit in _DISTANCE:
        if distance <= limit:
            return str(limit)
    return "far"


def triggers(talk: Talk) -> list[tuple[str, Mention, str]]:
    """Every trigger of a talk: its kind (finding, operation, part), mention and value (condition, action, state)."""
    found = []
    for mention in talk.mentions:
        if mention.kind == "condition":
            found.append(("finding", mention, mention.id))
        elif mention.kind == "action":
            found.append(("operation", mention, mention.id))
        else:
            for form in mention.forms:
                if form.kind in _PART_CUES and form.tag != "header":
                    found.append(("part", mention, form.kind[4:]))
                    break
    return found


def candidates(talk: Talk) -> list[Candidate]:
    """Every pair of a trigger and a component near it, with its features, in the order of the talk."""
    made: dict[tuple, Fact] = {}
    rules_of: dict[int, list[Fact]] = {}
    for fact in talk.facts:
        if fact.kind in ("finding", "operation", "part") and fact.mention is not None and fact.rule not in ("same again", "torque figure"):
            component = fact.component
            made[(fact.kind, id(fact.mention), id(component) if component is not None else None)] = fact
            rules_of.setdefault(id(fact.mention), []).append(fact)
    components = [m for m in talk.mentions if m.kind == "component" and "retracted" not in m.flags]
    found: list[Candidate] = []
    number = 0
    for kind, trigger, value in triggers(talk):
        while number < len(components) and components[number].start < trigger.start:
            number += 1
        before = [m for m in components[max(0, number - BEFORE) : number] if trigger.start - m.end <= WORDS_BEFORE]
        after = [m for m in components[number : number + AFTER] if m.start - trigger.end <= WORDS_AFTER]
        own = rules_of.get(id(trigger), [])
        known = {id(m) for m in before + after}
        extra = [f.component for f in own if f.component is not None and id(f.component) not in known]
        frame = _trigger_features(talk, kind, trigger, value, own)
        for rank, component in enumerate(reversed(before)):
            found.append(_pair(talk, kind, trigger, value, component, own, made, frame, f"b{rank}"))
        for rank, component in enumerate(after):
            found.append(_pair(talk, kind, trigger, value, component, own, made, frame, f"a{rank}"))
        for component in extra:
            found.append(_pair(talk, kind, trigger, value, component, own, made, frame, "x"))
        if kind == "operation":
            fact = made.get((kind, id(trigger), None))
            none = Candidate(kind, trigger, value, None, fact)
            none.features = [f"{kind} none {feature}" for feature in frame] + [f"none rule {fact.rule if fact else '-'}"]
            found.append(none)
    return found


def _word(talk: Talk, i: int) -> str:
    return talk.words[i] if 0 <= i < len(talk.words) else "|"


def _trigger_features(talk: Talk, kind: str, trigger: Mention, value: str, own: list[Fact]) -> list[str]:
    words = talk.words
    clause = talk.clauses[trigger.clause]
    left, right = _word(talk, trigger.start - 1), _word(talk, max(trigger.end, trigger.particle + 1))
    left2, right2 = _word(talk, trigger.start - 2), _word(talk, max(trigger.end, trigger.particle + 1) + 1)
    said = " ".join(words[trigger.start : trigger.end])
    if trigger.particle >= 0:
        said += " _ " + words[trigger.particle]
    frame = [
        "bias", f"v {value}", f"t {trigger.tag}", f"vt {value} {trigger.tag}", f"said {said}", f"l {left}", f"r {right}", f"ll {left2} {left}", f"rr {right} {right2}",
        f"l said {left} {said}", f"said r {said} {right}", f"first {_word(talk, clause.start)}", f"first2 {_word(talk, clause.start)} {_word(talk, clause.start + 1)}",
        f"pos {_bucket(trigger.start - clause.start)}", f"left in clause {_bucket(clause.end - trigger.end)}", f"style {talk.terse} {talk.punctuated}",
        f"ruled {len(own)}",
    ]  # fmt: skip
    for flag in _SHOWN_FLAGS:
        if flag in trigger.flags:
            frame.append(f"flag {flag}")
            frame.append(f"flag {flag} {value}")
        if flag in clause.flags:
            frame.append(f"clause {flag}")
    if any(word in talk.lexicon.words["self"] for word in words[clause.start : trigger.start]):
        frame.append("told by self")
        frame.append(f"told by self {trigger.tag}")
    if "you" in words[clause.start : clause.end]:
        frame.append("you in clause")
    for word in words[max(clause.start, trigger.start - 6) : trigger.start]:
        frame.append(f"near before {word}")
    for word in words[trigger.end : min(clause.end, trigger.end + 5)]:
        frame.append(f"near after {word}")
    kinds = {m.kind for m in clause.mentions if m is not trigger}
    frame += [f"with {other}" for other in kinds]
    return frame


def _pair(talk: Talk, kind: str, trigger: Mention, value: str, component: Mention, own: list[Fact], made: dict, frame: list[str], rank: str) -> Candidate:
    words = talk.words
    fact = made.get((kind, id(trigger), id(component)))
    clause = talk.clauses[trigger.clause]
    source = talk.clauses[component.clause]
    first, second = (component, trigger) if component.start < trigger.start else (trigger, component)
    between = range(first.end, second.start)
    gap = max(0, second.start - first.end)
    side = rank[0]
    sentences = abs(clause.sentence - source.sentence)
    clauses = abs(trigger.clause - component.clause)
    same = trigger.clause == component.clause
    where = f"{side} {'same' if same else 'near' if clauses == 1 else 'far'} {min(sentences, 3)}"
    others = sum(1 for i in between if talk.at[i] is not None and talk.at[i].start == i and talk.at[i].kind in ("condition", "action") or i < len(words) and talk.at[i] is not None and talk.at[i].start == i and talk.at[i].kind in _PART_CUES)
    things = sum(1 for i in between if talk.at[i] is not None and talk.at[i].start == i and talk.at[i].kind == "component")
    rule = fact.rule if fact is not None else "other" if own else "none"
    link = _word(talk, component.start - 1)
    role = "core" if component.core else "oblique"
    term = talk.lexicon.terms["component"].get(component.id)
    system = term.system if term is not None else "unknown"
    head = component.label.rpartition(" ")[2]
    antecedent = clause.antecedent is component
    features = [
        f"rule {rule}", f"rule {rule} {value}", f"rule {rule} {trigger.tag}", f"rule {rule} {where}", f"rank {rank}", f"rank {rank} {rule}", f"where {where}", f"where {where} {role}", f"where {where} {trigger.tag}",
        f"gap {side} {_bucket(gap)}", f"gap {side} {_bucket(gap)} {same}", f"others {min(others, 3)}", f"others {min(others, 3)} {where}", f"things {min(things, 3)} {where}",
        f"role {role} {side}", f"role {role} {where} {rule}", f"link {link} {where}", f"link {link} {trigger.tag} {side}", f"system {system}", f"system {system} {value}", f"head {head} {value}", f"head {head}", f"tag {component.tag}",
        f"known {component.id != 'unknown'}", f"known {component.id != 'unknown'} {rule}", f"antecedent {antecedent} {where}", f"antecedent {antecedent} {rule}", f"group {component.group >= 0} {where}", f"placed {component.placed}",
        f"trigger l {_word(talk, trigger.start - 1)} {where}", f"trigger r {_word(talk, trigger.end)} {where}", f"style {talk.terse} {talk.punctuated} {where}", f"style {talk.terse} {talk.punctuated} {rule}",
        f"ends {_word(talk, component.end)} {where}",
    ]  # fmt: skip
    if gap <= 3:
        features.append(f"between {side} {' '.join(words[first.end : second.start])}")
        features.append(f"between {side} {' '.join(words[first.end : second.start])} {trigger.tag}")
    seen = set()
    for i in between if gap <= 30 else ():
        word = words[i]
        if word in (".", ",", ":", "and", "but", "so", "it", "that", "they", "them", "which", "with", "on", "of", "in", "for", "is", "'s", "are", "was", "has", "had", "i", "we", "the", "a", "no", "not", "both", "one", "or", "then", "if"):
            if word not in seen:
                seen.add(word)
                features.append(f"has {word} {side}")
                features.append(f"has {word} {where}")
    if fact is None and own:
        features.append(f"instead of {own[0].rule} {where}")
        if own[0].component is not None and own[0].component.id == component.id:
            features.append("same thing as ruled")
    candidate = Candidate(kind, trigger, value, component, fact)
    candidate.features = [f"{kind} {feature}" for feature in features] + [f"{kind} {feature} {rule}" for feature in frame] + [f"{kind} {feature} {where}" for feature in frame[:8]]
    return candidate
