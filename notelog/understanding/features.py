"""What a statement may be about: the pairs that the learnt judge decides on, and what the rules' components say of them.

`candidates` lists every pair of a trigger (a condition, an action, a word that asks for a part) with a component near
it, or with none; `singles` lists the facts that are judged by themselves. Features are short strings; what the words
themselves say is left to the encoder.
"""

from __future__ import annotations

import bisect
from dataclasses import dataclass

from notelog.understanding.relations import MEASURES, MONEY, UNIT_QUANTITY, Fact
from notelog.understanding.state import KIND_OF, NOWHERE, PART_CUES, Mention, Talk

BEFORE, AFTER = 8, 4  # components looked at on either side of a trigger
WORDS_BEFORE, WORDS_AFTER = 60, 14
LISTED, WORDS_LISTED = 12, 50  # what is asked for stands in lists
UNJUDGED = ("same again", "torque figure")  # judged by themselves
PAIRED = ("finding", "operation", "part")
OWN_MONEY = {"right": "GBP", "left": "USD"}  # what a price without a currency is in, by the driver's side
_DISTANCE = (0, 1, 2, 3, 4, 6, 9, 14, 22, 40)
_FLAGS = ("denied", "doubted", "hypothetical", "general", "other_vehicle", "planned", "not_done")


@dataclass(slots=True, eq=False)
class Candidate:
    """A trigger and what it may be about; `fact` is the rules' own statement of this pair, if they made one.

    A fact that is judged by itself has its mention as trigger and no component. `places` are those that the statement may
    have (see `_places`).
    """

    kind: str
    trigger: Mention
    value: str
    component: Mention | None
    fact: Fact | None
    places: list[tuple[str, str]]
    features: list[str]


def _places(talk: Talk, trigger: Mention, there: Mention | None, fact: Fact | None, near: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """The places that a statement may have, each a side and an axle: none, the rules' choice, what the component's own
    words say, what holds where the statement and where the component stands, where the component was said to be before, and
    what is named `near` the statement."""
    here = talk.clauses[trigger.clause].place
    if there is None:
        ruled = fact.place if fact is not None else NOWHERE
        return [("", ""), ruled[:2], ("", ""), here[:2], here[:2], ("", ""), *near]
    ruled = fact.place if fact is not None else there.place
    return [("", ""), ruled[:2], there.own_place[:2], here[:2], talk.clauses[there.clause].place[:2], there.earlier_place[:2], *near]


def _named_near(talk: Talk, trigger: Mention) -> list[tuple[str, str]]:
    """The side and the axle named last before a trigger, those named before them that were others, and those named next
    in its sentence."""
    at = bisect.bisect_left(talk.named_places, (trigger.start,))
    last, other, coming = ["", ""], ["", ""], ["", ""]
    for _, *place in reversed(talk.named_places[max(0, at - 12) : at]):
        for number, value in enumerate(place):
            if value and not last[number]:
                last[number] = value
            elif value and value != last[number] and not other[number]:
                other[number] = value
    sentence = talk.clauses[trigger.clause].sentence
    for word, *place in talk.named_places[at : at + 4]:
        if talk.clauses[talk.clause_of[word]].sentence != sentence:
            break
        coming = [value or new for value, new in zip(coming, place)]
    return [(last[0], last[1]), (other[0], other[1]), (coming[0], coming[1])]


def _place_features(places: list[tuple[str, str]]) -> list[str]:
    """Which of a candidate's places agree, without saying which side or axle they are."""
    found = []
    for column, name in enumerate(("side", "axle")):
        letters: dict[str, str] = {}
        marks = "".join("-" if not place[column] else "+" if place[column] == "both" else letters.setdefault(place[column], "ABC"[len(letters)]) for place in places[1:])
        ruled, own, here, there, earlier, last, other, coming = marks
        found += [f"{name} a {ruled}{own}{here}{there}{earlier}", f"{name} b {ruled}{own}{last}{other}{coming}", f"{name} c {ruled}{here}{last}{earlier}"]
    return found


def _bucket(distance: int) -> str:
    for limit in _DISTANCE:
        if distance <= limit:
            return str(limit)
    return "far"


def _triggers(talk: Talk) -> list[tuple[str, Mention, str]]:
    """Every trigger of a talk, once for each thing that its words can say: its kind, mention and value."""
    found = []
    senses: dict[int, list[str]] = {}
    for fact in talk.facts:
        if fact.kind == "operation" and fact.mention is not None and fact.value != fact.mention.id:
            senses.setdefault(id(fact.mention), []).append(fact.value)
    for mention in talk.mentions:
        values = []
        if mention.kind in KIND_OF or mention.kind == "weak":
            values = [(KIND_OF[mention.kind], mention.id)] if mention.kind in KIND_OF else []
            for form in mention.forms[:10]:
                if form.kind in KIND_OF:
                    values.append((KIND_OF[form.kind], form.id))
            values += [("operation", value) for value in senses.get(id(mention), ())]
        else:
            for form in mention.forms:
                if form.kind in PART_CUES:
                    values.append(("part", form.kind[4:]))
                    break
        for form in mention.forms:
            if form.tag == "spotted":
                values.append((KIND_OF.get(form.kind, "part"), form.id))
        found += [(kind, mention, value) for kind, value in dict.fromkeys(values)]
    known = {(kind, id(mention), value) for kind, mention, value in found}
    for fact in talk.facts:  # what the rules read off other words: the lines of a list under a heading
        if fact.kind in PAIRED and fact.mention is not None and fact.rule not in UNJUDGED and (fact.kind, id(fact.mention), fact.value) not in known:
            known.add((fact.kind, id(fact.mention), fact.value))
            found.append((fact.kind, fact.mention, fact.value))
    return found


def candidates(talk: Talk) -> list[Candidate]:
    """Every pair of a trigger and a component near it, in the order of the talk."""
    made: dict[tuple, Fact] = {}
    rules_of: dict[int, list[Fact]] = {}
    for fact in talk.facts:
        if fact.kind in PAIRED and fact.mention is not None and fact.rule not in UNJUDGED:
            made[(fact.kind, fact.value, id(fact.mention), id(fact.component) if fact.component is not None else None)] = fact
            rules_of.setdefault(id(fact.mention), []).append(fact)
    components = [m for m in talk.mentions if m.kind in ("component", "fastener") and "retracted" not in m.flags]
    starts = [m.start for m in components]
    begun = _begun(talk)
    found: list[Candidate] = []
    for kind, trigger, value in _triggers(talk):
        number = bisect.bisect_left(starts, trigger.start)
        before = [m for m in components[max(0, number - BEFORE) : number] if trigger.start - m.end <= WORDS_BEFORE]
        most, words = (LISTED, WORDS_LISTED) if kind == "part" else (AFTER, WORDS_AFTER)
        after = [m for m in components[number : number + most] if m.start - trigger.end <= words and m is not trigger]
        own = rules_of.get(id(trigger), [])
        known = {id(m) for m in before + after}
        extra = list(dict.fromkeys(f.component for f in own if f.component is not None and id(f.component) not in known))
        shared, near = _trigger_features(talk, kind, trigger, value, own), _named_near(talk, trigger)
        ranked = [(m, f"b{rank}") for rank, m in enumerate(reversed(before))] + [(m, f"a{rank}") for rank, m in enumerate(after)]
        for component, rank in ranked + [(m, "x") for m in extra]:
            fact = made.get((kind, value, id(trigger), id(component)))
            places = _places(talk, trigger, component, fact, near)
            features = shared + _pair_features(talk, begun, trigger, component, own, fact, rank)
            found.append(Candidate(kind, trigger, value, component, fact, places, [f"{kind} {feature}" for feature in features] + _place_features(places)))
        if kind == "operation":
            fact = made.get((kind, value, id(trigger), None))
            places = _places(talk, trigger, None, fact, near)
            features = shared + [f"none rule {fact.rule if fact else '-'}"]
            found.append(Candidate(kind, trigger, value, None, fact, places, [f"{kind} {feature}" for feature in features] + _place_features(places)))
    return found


def _loose(talk: Talk) -> list[Fact]:
    """What the rules made no fact of: fasteners, tools and materials that are named, quantities that may be a reading, a
    time or a price. Only the judge makes statements of them."""
    told = {(fact.kind, id(fact.mention)) for fact in talk.facts}
    measured: dict[int, set[str]] = {}
    for fact in talk.facts:
        if fact.kind == "measurement":
            measured.setdefault(id(fact.mention), set()).add(fact.value)
    word, found = "", []
    last: Mention | None = None

    def add(kind: str, value: str, mention: Mention, **more) -> None:
        fact = Fact(kind, value, mention.start, mention.end, "loose", last, mention=mention, clause=mention.clause, **more)
        fact.place = last.place if last is not None else NOWHERE
        found.append(fact)

    for number, mention in enumerate(talk.mentions):
        if "retracted" in mention.flags:
            continue
        kind = mention.kind
        if kind == "quantity_word":
            word = mention.id
        if kind == "component":
            last = mention
        fastener = mention.id if kind == "fastener" else mention.fastener
        if fastener and ("fastener", id(mention)) not in told:
            near = [m for m in talk.mentions[max(0, number - 3) : number + 5] if m.kind == "quantity" and m.unit in ("mm", "in", "M", "T") and -4 <= m.start - mention.end <= 6]
            add("fastener", fastener, mention, size=(near[0].low, near[0].unit) if near else None)
        elif kind in ("tool", "material") and (kind, id(mention)) not in told:
            add(kind, mention.id, mention)
        elif kind == "quantity" and mention.unit in MONEY and ("cost", id(mention)) not in told:
            add("cost", mention.unit, mention, low=mention.low)
        elif kind == "quantity" and mention.unit == "h" and ("labour", id(mention)) not in told:
            add("labour", "hours", mention, low=mention.low, high=mention.high)
        elif kind == "quantity" and not mention.unit:
            for value, share in mention.guesses:
                if value == "cost":
                    add("cost", OWN_MONEY[talk.driver_side], mention, low=mention.low)
                elif value == "labour" and mention.high <= 100:
                    add("labour", "hours", mention, low=mention.low, high=mention.high)
        elif kind == "quantity" and mention.unit in MEASURES:
            said = measured.get(id(mention), set())
            guesses = [value for value, share in mention.guesses if share >= 0.15] or ([] if said else [UNIT_QUANTITY.get(mention.unit) or word or "length"])
            for value in guesses:
                if value not in said and value not in ("none", "cost", "labour"):
                    add("measurement", value, mention, low=min(mention.low, mention.high), high=max(mention.low, mention.high), unit=mention.unit)
    return found


def singles(talk: Talk) -> list[Candidate]:
    """The facts that are judged by themselves: fasteners, tools, readings, materials, times, prices, and copies."""
    found = []
    for fact in talk.facts + _loose(talk):
        if fact.kind in PAIRED and fact.rule not in UNJUDGED or fact.mention is None:
            continue
        features = _trigger_features(talk, fact.kind, fact.mention, fact.value, [fact]) + [
            f"rule {fact.rule}", f"size {fact.size[1] if fact.size else None}", f"unit {fact.unit}", f"value {fact.value} {fact.unit}", f"count {fact.count is not None}",
            f"drive {fact.drive or None}", f"component {fact.component is not None and fact.component.id != 'unknown'}", f"status {fact.status}", f"value {fact.value}",
        ]  # fmt: skip
        places = _places(talk, fact.mention, None, fact, _named_near(talk, fact.mention))
        of_place = _place_features(places) if fact.kind == "measurement" or fact.kind in PAIRED else []
        found.append(Candidate(fact.kind, fact.mention, fact.value, None, fact, places, [f"single {fact.kind} {feature}" for feature in features] + of_place))
    return found


def _trigger_features(talk: Talk, kind: str, trigger: Mention, value: str, own: list[Fact]) -> list[str]:
    clause = talk.clauses[trigger.clause]
    first = own[0] if own else None
    shared = [
        f"v {value}", f"t {trigger.tag}", f"vt {value} {trigger.tag}", f"pos {_bucket(trigger.start - clause.start)}", f"left in clause {_bucket(clause.end - trigger.end)}",
        f"style {talk.terse} {talk.punctuated}", f"ruled {len(own)} {first.rule if first else None}", f"settled {kind == KIND_OF.get(trigger.kind, trigger.kind)} {value == trigger.id}", f"weak {trigger.kind == 'weak'}",
        f"status {first.status if first else None} {trigger.tag}",
    ]  # fmt: skip
    for flag in _FLAGS:
        if flag in trigger.flags:
            shared += [f"flag {flag}", f"flag {flag} {value}"]
        if flag in clause.flags:
            shared.append(f"clause {flag}")
    return shared


def _begun(talk: Talk) -> tuple[list[int], list[int]]:
    """How many components, and how many statements, begin before each word."""
    things, others = [0], [0]
    for i, mention in enumerate(talk.at):
        begins = mention is not None and mention.start == i
        things.append(things[-1] + (begins and mention.kind == "component"))
        others.append(others[-1] + (begins and (mention.kind in ("condition", "action") or mention.kind in PART_CUES)))
    return things, others


def _pair_features(talk: Talk, begun: tuple[list[int], list[int]], trigger: Mention, component: Mention, own: list[Fact], fact: Fact | None, rank: str) -> list[str]:
    clause, source = talk.clauses[trigger.clause], talk.clauses[component.clause]
    first, second = (component, trigger) if component.start < trigger.start else (trigger, component)
    begin, end = first.end, max(first.end, second.start)
    things, others = (sums[end] - sums[begin] for sums in begun)
    same = trigger.clause == component.clause
    near = "same" if same else "near" if abs(trigger.clause - component.clause) == 1 else "far"
    where = f"{rank[0]} {near} {min(abs(clause.sentence - source.sentence), 3)}"
    rule = fact.rule if fact is not None else "other" if own else "none"
    role = "core" if component.core else "oblique"
    term = talk.lexicon.terms["component"].get(component.id)
    system = term.system if term is not None else "unknown"
    gap = _bucket(max(0, second.start - first.end))
    features = [
        f"rule {rule}", f"rule {rule} {where}", f"rank {rank}", f"rank {rank} {rule}", f"where {where}", f"where {where} {role}", f"gap {rank[0]} {gap} {same}", f"others {min(others, 3)} {where}",
        f"things {min(things, 3)} {where}", f"role {role} {rank[0]} {rule}", f"system {system}", f"tag {component.tag}", f"known {component.id != 'unknown'} {rule}",
        f"antecedent {clause.antecedent is component} {where}", f"group {component.group >= 0} {where}", f"placed {component.placed}",
    ]  # fmt: skip
    for name, place in (("own", component.own_place), ("run", clause.place), ("there", source.place), ("earlier", component.earlier_place), ("ruled", component.place)):
        features.append(f"place {name} {bool(place[0])} {bool(place[1])}")
    features.append(f"sides {term.sides if term is not None else None} {system}")
    if fact is None and own and own[0].component is not None and own[0].component.id == component.id:
        features.append("same thing as ruled")
    return features
