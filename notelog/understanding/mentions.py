"""The component `notelog_mentions`: finds the words of the trade, longest form first.

Forms come from the lexicon alone. A form that can mean several things ("split": a condition, or what was done to a
joint) is settled by the words beside it. Part words that no entry holds ("lane camera" + "bracket") become components of
their own, marked unknown.
"""

from __future__ import annotations

import bisect
import functools

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import Form, Lexicon, forms_of, load, normal
from notelog.lexicon.inflect import plural
from notelog.lexicon.sounds import sounds_like
from notelog.understanding.state import Mention, Talk

_PLACE_WORDS = {"front": 1, "rear": 1, "back": 1, "upper": 2, "top": 2, "lower": 2, "bottom": 2, "inner": 3, "outer": 3}
_PLACE_VALUE = {"front": "front", "rear": "rear", "back": "rear", "upper": "upper", "top": "upper", "lower": "lower",
                "bottom": "lower", "inner": "inner", "outer": "outer"}  # fmt: skip
_FASTENER_ENDS = {"nut": "nut", "bolt": "bolt", "screw": "screw", "stud": "stud", "clip": "clip", "clamp": "clamp",
                  "circlip": "circlip", "pin": "pin", "rivet": "rivet", "washer": "washer", "plug": "plug"}  # fmt: skip
USUAL_OBJECT = {"align": "wheel_alignment", "bleed": "brake_system"}
SUFFIXES = {"assembly", "assy", "unit", "set", "kit", "pair", "assemblies", "units", "sets", "kits", "pairs"}
_VERB_TAGS = {"base", "s", "past", "part", "ed", "same", "ing"}
_STATE_BEFORE = {"'s", "is", "are", "was", "were", "'re", "'ve", "has", "have", "came", "comes", "come", "be", "its", "thats", "both",
                 "now", "already", "all", "been", "them", "it", "that", "went", "goes", "back"}  # fmt: skip


def talk_of(doc: Doc, lexicon: Lexicon) -> Talk:
    """The Talk of a Doc, made by the first component that asks for it."""
    talk = doc._.talk
    if talk is None:
        talk = doc._.talk = _new_talk(doc, lexicon)
    return talk


def _new_talk(doc: Doc, lexicon: Lexicon) -> Talk:
    words: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    breaks: set[int] = set()
    fillers = lexicon.words["filler"]
    abbreviations = lexicon.abbreviations
    text = doc.text
    soft = _soft_lines(text)
    for token in doc:
        word = token.lower_
        if word.isspace():
            if "\n" in word and (not soft or word.count("\n") > 1):
                breaks.add(len(words))
            continue
        if word in fillers or word == "-" and _inside_word(text, token.idx):
            continue
        words.append(abbreviations.get(word) or word.replace("\u2019", "'"))
        starts.append(token.idx)
        ends.append(token.idx + len(token))
    _join_halves(words, starts, ends, breaks, lexicon)
    stops, punctuated = _trust(words, lexicon)
    lines = text.count("\n") + 1
    terse = stops and len(words) / max(1, lines + sum(w == "." for w in words)) < 9
    return Talk(lexicon, doc._.driver_side, doc._.heard, words, starts, ends, breaks, stops, punctuated, terse)


def _join_halves(words: list[str], starts: list[int], ends: list[int], breaks: set[int], lexicon: Lexicon) -> None:
    """Puts together long trade words that were cut in two ("inter cooler"); `breaks` are moved along."""
    forms = forms_of(lexicon)
    joined, whole = forms.joined, forms.whole
    halves = [i for i in range(len(words) - 1) if words[i] + words[i + 1] in joined and i + 1 not in breaks and words[i].isalpha() and words[i + 1].isalpha()
              and not any(tuple(words[begin:end]) in whole for begin in range(max(0, i - 2), i + 1)
                          for end in range(i + 2, begin + forms.longest.get(words[begin], 0) + 1))]  # fmt: skip
    gone: list[int] = []
    for i in halves:
        if not gone or gone[-1] != i:
            words[i] += words[i + 1]
            ends[i] = ends[i + 1]
            gone.append(i + 1)
    if not gone:
        return
    lost = set(gone)
    for values in (words, starts, ends):
        values[:] = [value for i, value in enumerate(values) if i not in lost]
    moved = {b - bisect.bisect_left(gone, b) for b in breaks}
    breaks.clear()
    breaks |= moved


def _inside_word(text: str, at: int) -> bool:
    return 0 < at < len(text) - 1 and text[at - 1].isalnum() and text[at + 1].isalnum()


def _soft_lines(text: str) -> bool:
    """Whether line ends only wrap the text: all lines of a block but the last are about equally long."""
    inner = []
    for block in text.split("\n\n"):
        inner += [len(line) for line in block.split("\n")[:-1]]
    if len(inner) < 2:
        return False
    longest = max(inner)
    return longest > 45 and sum(length > 0.72 * longest for length in inner) >= 0.8 * len(inner)


def _trust(words: list[str], lexicon: Lexicon) -> tuple[bool, bool]:
    """Whether full stops end sentences here, and whether there are enough of them to rely on."""
    stops = [i for i, word in enumerate(words) if word in (".", "?", "!")]
    if not words:
        return True, False
    open_ends = lexicon.words["determiner"] | lexicon.words["preposition"] | {"and", "is", "are", "was", "i", "to", "so", "but"}
    open_ends -= {"off", "out", "in", "on", "up", "down", "through", "one", "both", "that", "this", "each", "all", "round", "around",
                  "over", "no", "under", "inside", "outside", "his", "apart"}  # fmt: skip
    wrong = sum(1 for i in stops if i and words[i - 1] in open_ends)
    trusted = wrong <= 0.12 * len(stops)
    marks = len(stops) + sum(word in (";", ":") for word in words)
    return trusted, trusted and marks * 45 >= len(words)


def _raw(talk: Talk, forms) -> list[Mention]:
    words, whole, longest = talk.words, forms.whole, forms.longest
    quantities = {}
    if talk.heard is not None:
        quantities = {q.start: q for q in talk.heard.quantities}
    found: list[Mention] = []
    i, n = 0, len(words)
    while i < n:
        quantity = quantities.get(talk.starts[i])
        end = i + 1
        if quantity is not None:
            while end < n and talk.starts[end] < quantity.end:
                end += 1
        if quantity is not None and not _numbered(words, forms, i, end):
            found.append(Mention("quantity", quantity.unit or "number", i, end, low=quantity.low, high=quantity.high, unit=quantity.unit))
            i = end
            continue
        reach = longest.get(words[i], 0)
        if not reach:
            i += 1
            continue
        if words[i] in _PLACE_WORDS:
            reach = _place_first(words, forms, i, min(reach, n - i))
        for length in range(min(reach, n - i), 0, -1):
            known = whole.get(tuple(words[i : i + length]))
            if known is not None and length > 1 and i and known[0].kind == "action" and known[0].tag in ("s", "base") and _noun_place(talk, found, i):
                known = None  # "two bolts up top" is no verb
            if known is not None and not any(b in talk.breaks for b in range(i + 1, i + length)):
                found.append(Mention(known[0].kind, known[0].id, i, i + length, known[0].tag, forms=known))
                if length > 2 and known[0].kind in ("action", "condition"):
                    _inner_tool(words, whole, i, i + length, found)
                i += length
                break
        else:
            i += 1
    return found


def _numbered(words: list[str], forms, i: int, end: int) -> bool:
    """Whether the number at words i:end begins the name of one thing: "7 pin plug", "12V socket"."""
    for length in range(min(forms.longest.get(words[i], 0), len(words) - i), end - i, -1):
        known = forms.whole.get(tuple(words[i : i + length]))
        if known is not None and known[0].kind in ("component", "tool", "material") and known[0].tag != "plural":
            return True
    return False


def _place_first(words: list[str], forms, i: int, reach: int) -> int:
    """How far a form may reach from the place word at i: "rear brake cable" is a brake cable at the rear, and not the rear
    brake's "cable"; the place stands alone where the words behind it name a part that ends later."""
    whole = forms.whole
    own = next((length for length in range(reach, 1, -1) if tuple(words[i : i + length]) in whole), 1)
    rest = min(forms.longest.get(words[i + 1], 0), len(words) - i - 1) if i + 1 < len(words) else 0
    for length in range(rest, max(own - 1, 1), -1):
        known = whole.get(tuple(words[i + 1 : i + 1 + length]))
        if known is not None and known[0].kind == "component":
            return 1
    return reach


def _inner_tool(words: list[str], whole: dict, start: int, end: int, found: list[Mention]) -> None:
    """The tool named inside a verb phrase ("put the pressure tester on")."""
    for i in range(start + 1, end):
        for stop in range(end, i, -1):
            known = whole.get(tuple(words[i:stop]))
            tool = next((form for form in known if form.kind == "tool"), None) if known else None
            if tool is not None:
                found.append(Mention("tool", tool.id, i, stop, tool.tag, forms=[tool]))
                return


def _noun_place(talk: Talk, found: list[Mention], i: int) -> bool:
    """Whether a noun is due at word i: after a count, a size or a determiner."""
    last = found[-1] if found else None
    if last is not None and last.end == i and last.kind in ("quantity", "drive"):
        return True
    left = talk.words[i - 1]
    return left in talk.lexicon.words["determiner"] and left not in ("this", "that", "all", "both", "one") or left in talk.lexicon.words["adjective"]


def _split_verbs(talk: Talk, forms, found: list[Mention]) -> None:
    """ "took the hub off": a verb whose particle stands after its object."""
    words, n = talk.words, len(talk.words)
    taken = {}
    for mention in found:
        for i in range(mention.start, mention.end):
            taken[i] = mention
    for i, word in enumerate(words):
        tails = forms.split.get(word)
        if not tails:
            continue
        here = taken.get(i)
        if here is not None and here.end - here.start > 1:
            continue
        limit = min(n, i + 12)
        for at in range(i + 2, limit):
            if words[at] in ".,;:?!" or at in talk.breaks or words[at] in ("i", "we", "but", "because", "so"):
                break
            if words[at] == "and" and at > i + 4:
                break
            other = taken.get(at)
            if other is not None and other.kind == "action" and any(f.tag in ("past", "ed", "part", "base") for f in other.forms) and other.end - other.start > 1:
                break
            match = None
            for tail, form in tails:
                if tuple(words[at : at + len(tail)]) == tail:
                    match = (tail, form)
                    break
            if match is None:
                continue
            tail, form = match
            after = words[at + len(tail)] if at + len(tail) < n else "."
            if tail[-1] in ("on", "in", "up", "through", "over", "down", "round") and after in ("the", "a", "my", "its", "this", "that", "there"):
                if tail[-1] in ("in", "on", "over", "through", "round"):
                    continue
            if words[at - 1] in ("the", "a", "it's", "is", "'s", "are", "or"):
                continue
            mention = Mention("action", form.id, i, i + 1, form.tag, forms=[f for t, f in tails if t == tail], particle=at + len(tail) - 1)
            if here is not None and here in found:
                found.remove(here)
            blocked = [taken.get(k) for k in range(at, at + len(tail))]
            for other in blocked:
                if other is not None and other in found and other.kind in ("action", "place", "cue:landmark"):
                    found.remove(other)
            found.append(mention)
            taken[i] = mention
            for k in range(at, at + len(tail)):
                taken[k] = mention
            break


def _state_stands(talk: Talk, mention: Mention, before: Mention | None, after: Mention | None) -> bool:
    """Whether "off", "out", "in", "on" say a state ("the wheel's off") and are no prepositions ("on the hub")."""
    words, groups = talk.words, talk.lexicon.words
    end = mention.end
    i = mention.start - 1
    while i >= 0 and words[i] in groups["adverb"] and not (before is not None and before.end - 1 == i):
        i -= 1
    left = words[i] if i >= 0 else "."
    thing_before = before is not None and before.end == i + 1 and before.kind in ("component", "part_word", "fastener")
    if not (left in _STATE_BEFORE or left in groups["be"] or thing_before):
        return False
    if end >= len(words) or end in talk.breaks:
        return True
    right = words[end]
    if words[mention.start] in ("on", "in") and end - mention.start == 1 and thing_before and after is not None and after.start == end and after.kind in ("component", "part_word", "place"):
        return False  # "corrosion on left hand sill"
    if right in (".", ",", ";", ":", "!", "?", ")", "-", "–") or right in groups["break"] or right in ("and", "now", "already", "then", "too", "again", "there", "with", "tomorrow", "today", "tonight", "um"):
        return True
    if right in groups["subject_pronoun"] and right not in ("it", "that", "this", "there"):
        return True
    if right in groups["determiner"] or right in groups["object_pronoun"] or right in groups["preposition"]:
        return False
    bare = words[mention.start] in ("on", "in") and thing_before
    return left in groups["be"] or left in ("'s", "its", "thats") or end - mention.start > 1 or not talk.punctuated and not bare


def _settle(talk: Talk, mention: Mention, before: Mention | None, after: Mention | None) -> Form | None:
    """Which of its meanings a mention has here; None when it has none."""
    words, lexicon = talk.words, talk.lexicon
    start, end, n = mention.start, mention.end, len(words)
    left = words[start - 1] if start else "."
    right = words[end] if end < n else "."
    by_kind: dict[str, Form] = {}
    if words[start] in talk.lexicon.words["particle"] and end - start <= 2 and any(f.tag == "state" for f in mention.forms) and not _state_stands(talk, mention, before, after):
        rest = [f for f in mention.forms if f.kind == "place"]
        if rest:
            return rest[0]
        return next((f for f in mention.forms if f.kind == "cue:landmark"), None)
    for form in mention.forms:
        by_kind.setdefault(form.kind, form)
    groups = lexicon.words
    verb = next((f for f in mention.forms if f.kind == "action" and f.tag in _VERB_TAGS), None)
    state = next((f for f in mention.forms if f.kind == "action" and f.tag == "state"), None)
    noun_action = next((f for f in mention.forms if f.kind == "action" and f.tag == "noun"), None)
    condition = by_kind.get("condition")
    thing = by_kind.get("component") or by_kind.get("fastener") or by_kind.get("tool") or by_kind.get("material") or by_kind.get("part_word")
    if thing is None and condition is None and state is None:
        thing = by_kind.get("quantity_word")
    if verb and verb.tag in ("base", "same") and left in ("a", "an", "the", "no", "any", "another") and len(mention.forms) > 1:
        verb = None
    cue = next((f for f in mention.forms if f.kind.startswith("cue:")), None)
    place = by_kind.get("place")
    if by_kind.get("component") and by_kind.get("part_word") and by_kind.get("tool"):
        thing = by_kind["component"]
    noun_before = (
        left in groups["determiner"] or left in groups["adjective"] or left in ("'s", "of", "with", "w/", "new", "no")
        or before is not None and before.end == start and before.kind in ("component", "quantity", "place", "part_word", "condition", "fastener", "drive", "tool")
    )  # fmt: skip
    actor = left in groups["self"] or left in ("'ve", "'ll", "to", "'d", "and", "then", "ill", "gonna", "just", "already", "be", "been", "haven't", "not", "didn't", "can't", "couldn't")
    object_after = right in groups["object_pronoun"] or right in groups["determiner"] or (
        after is not None and after.start == end and after.kind in ("component", "place", "part_word", "fastener", "quantity"))
    if noun_action and thing and USUAL_OBJECT.get(noun_action.id) == thing.id:
        return noun_action
    if thing and (verb or condition or noun_action) and len(mention.forms) > 1:
        if actor and object_after and verb:
            return verb
        if noun_before and left != "and":
            return thing
        if condition and not verb:
            return condition if (left in groups["be"] or left in groups["have"] or left == "no") else thing
        if verb:
            if verb.tag in ("base", "same") and not object_after:
                return thing
            if verb.tag == "s" and not object_after:
                return thing
            if verb.tag in ("base", "s", "same") and thing.kind in ("component", "fastener") and not actor and not (left in ".,;:!?" or start in talk.breaks):
                return thing
            return verb
        return thing
    if condition and (verb or state or noun_action):
        adverb = start - 1
        while adverb >= 0 and words[adverb] in groups["adverb"]:
            adverb -= 1
        lead = words[adverb] if adverb >= 0 else "."
        lead2 = words[adverb - 1] if adverb > 0 else "."
        if verb:
            own = lead in groups["self"] or lead == "'ve" and lead2 in groups["self"] or lead == "to" or lead in ("'ll", "will", "gonna")
            if own and verb.tag in ("past", "ed", "same", "base", "part"):
                return verb
            if lead in groups["self"] and object_after:
                return verb
            if verb.tag == "ing" and object_after and condition.tag == "ing":
                return verb
            if verb.tag in ("base",) and condition.tag not in ("pred", "noun") and object_after:
                return verb
            if verb.tag == "ed" and condition.tag == "ed":
                return condition
        return condition
    if verb and noun_action and not state:
        if noun_before and left not in ("and",) and not object_after:
            return noun_action
        if verb.tag in ("base", "same") and not actor and not object_after and (before is None or before.end <= start):
            return noun_action
        return verb
    if place and (verb or state or thing or condition or cue):
        if thing:
            return thing
        if state and left in _STATE_BEFORE and mention.end - mention.start >= 1 and (after is None or after.kind not in ("component", "part_word") or after.start > end):
            return state
        return place
    if state and (verb is None or state is mention.forms[0]):
        return state
    if condition:
        same = [f for f in mention.forms if f.kind == "condition"]
        if len(same) > 1:
            predicate = left in groups["be"] and right not in groups["attach"] or left in groups["become"]
            tag = "pred" if predicate else "noun"
            return next((f for f in same if f.tag == tag), same[0])
        return condition
    if by_kind.get("fastener") and by_kind.get("drive"):
        return by_kind["drive"] if after is not None and after.start == end and after.kind == "fastener" else by_kind["fastener"]
    if thing and cue:
        return thing
    if by_kind.get("fastener") and thing:
        return by_kind["component"] if by_kind.get("component") else by_kind["fastener"]
    return thing or verb or noun_action or state or mention.forms[0]


def _chunks(talk: Talk, found: list[Mention]) -> list[Mention]:
    """Joins neighbours into one component: component + part word, unknown words + part word, component + fastener."""
    lexicon, words = talk.lexicon, talk.words
    names = lexicon.by_name("component")
    groups = lexicon.words
    stop = (groups["determiner"] | groups["preposition"] | groups["conjunction"] | groups["be"] | groups["have"] | groups["pronoun"]
            | groups["subject_pronoun"] | groups["auxiliary"] | groups["adverb"] | groups["adjective"] | groups["not_a_part"] | groups["become"] | groups["opener"] | groups["common_verb"] | groups["day"])  # fmt: skip
    joined: list[Mention] = []
    for mention in found:
        last = joined[-1] if joined else None
        adjacent = last is not None and last.end == mention.start and mention.start not in talk.breaks
        if mention.kind in ("part_word", "component") and adjacent and last.kind in ("component", "part_word"):
            said = words[last.start : mention.end]
            label = singular(" ".join(said), lexicon)
            base = last.label or lexicon.terms["component"][last.id].label if last.id in lexicon.terms["component"] else last.label
            term = names.get(label) or names.get(normal(f"{base} {singular(words[mention.start:mention.end][-1], lexicon)}"))
            if mention.kind == "part_word" or term is not None:
                plural_word = mention.tag == "plural"
                joined[-1] = Mention("component", term.id if term else "unknown", last.start, mention.end, "plural" if plural_word else "name", term.label if term else label)
                continue
        if mention.kind == "fastener" and adjacent and last.kind in ("component",):
            said = singular(" ".join(words[last.start : mention.end]), lexicon)
            term = names.get(said)
            both = Mention("component", term.id if term else "unknown", last.start, mention.end, mention.tag, term.label if term else said)
            both.fastener = mention.id
            both.holder = last
            joined[-1] = both
            continue
        if mention.kind == "part_word":
            weak = lexicon.part_words[mention.id] == "weak"
            begin = mention.start
            limit = last.end if last is not None else 0
            if last is not None and last.kind not in ("component",):
                limit = last.end
            while begin > limit and mention.start - begin < 3 and begin not in talk.breaks:
                word = words[begin - 1]
                if word in stop or not word[0].isalpha() or len(word) < 2:
                    break
                begin -= 1
            if weak and begin == mention.start:
                continue
            label = singular(" ".join(words[begin : mention.end]), lexicon)
            term = names.get(label)
            joined.append(Mention("component", term.id if term else "unknown", begin, mention.end, mention.tag, term.label if term else label))
            continue
        joined.append(mention)
    at_start = {mention.start for mention in joined}
    for mention in joined:
        if mention.kind == "component":
            if mention.end < len(words) and words[mention.end] in SUFFIXES and mention.end not in at_start and mention.end not in talk.breaks:
                mention.end += 1
            term = lexicon.terms["component"].get(mention.id)
            if not mention.label and term is not None:
                mention.label = term.label
            last_word = singular(words[mention.end - 1], lexicon)
            if last_word in SUFFIXES and mention.end - mention.start > 1:
                last_word = singular(words[mention.end - 2], lexicon)
            if not mention.fastener and last_word in _FASTENER_ENDS:
                mention.fastener = _FASTENER_ENDS[last_word]
            place = ["", "", "", ""]
            for i in range(mention.start, mention.end):
                if words[i] in _PLACE_WORDS and words[i + 1 : i + 2] != ["view"]:
                    place[_PLACE_WORDS[words[i]]] = _PLACE_VALUE[words[i]]
            if mention.tag == "short" and not any(place) and term is not None:
                for word in term.label.split(" "):
                    if word in _PLACE_WORDS:
                        place[_PLACE_WORDS[word]] = _PLACE_VALUE[word]
            if words[mention.start] in ("driver", "drivers", "passenger", "passengers"):
                driver = words[mention.start].startswith("driver")
                place[0] = talk.driver_side if driver else {"left": "right", "right": "left"}[talk.driver_side]
                mention.placed = True
            if any(place):
                mention.place = tuple(place)
    return joined


def _hear_again(talk: Talk, mention: Mention, end: int, limit: int, taken: dict[int, Mention]) -> None:
    """In a recogniser's text, a part that no entry has may be one that was misheard: "condense her", "slamb panel". Words
    that the trade knows are left as they are."""
    words, parts = talk.words, talk.lexicon.part_words
    strange = [word for word in words[mention.start : end] if word not in parts and singular(word, talk.lexicon) not in parts]
    if not strange:
        return
    said = " ".join(words[mention.start : end])
    longer = f"{said} {words[end]}" if end < limit and taken.get(end) is None and words[end] in ("her", "hers") else ""
    for text, to in ((longer, end + 1), (said, end)):
        heard = sounds_like(text, talk.lexicon) if text else None
        if heard is not None:
            name, term = heard
            mention.id, mention.label, mention.end = term.id, term.label, to
            mention.why = [f"heard as {name}: {text}"]
            return


def _weak(talk: Talk, forms, mentions: list[Mention]) -> list[Mention]:
    """Words that may say a condition ("gone", "popped"): alone where nothing else was found, and as a further meaning of
    what was found in the same words. Only the learnt judge makes statements of them."""
    words, weak, longest = talk.words, forms.weak, forms.longest_weak
    taken = [False] * len(words)
    for mention in mentions:
        for i in range(mention.start, mention.end):
            taken[i] = True
        if mention.kind in ("condition", "action"):
            more = weak.get(tuple(words[mention.start : mention.end]))
            if more:
                mention.forms = mention.forms + [form for form in more if form not in mention.forms]
    added: list[Mention] = []
    i = 0
    while i < len(words):
        reach = 0 if taken[i] else longest.get(words[i], 0)
        for length in range(min(reach, len(words) - i), 0, -1):
            known = weak.get(tuple(words[i : i + length]))
            if known is not None and not any(taken[i : i + length]) and not any(b in talk.breaks for b in range(i + 1, i + length)):
                added.append(Mention("weak", known[0].id, i, i + length, known[0].tag, forms=known))
                i += length - 1
                break
        i += 1
    return sorted(mentions + added, key=lambda m: m.start) if added else mentions


def _unknown_topics(talk: Talk, mentions: list[Mention]) -> list[Mention]:
    """Noun phrases where a part must stand and no entry has it: "(now) the coupler, ... bent", "L marker smashed".

    One to three words that no list holds, at the start of a statement, before a copula, a comma, a colon, a condition or
    a word that asks for a part.
    """
    words, groups = talk.words, talk.lexicon.words
    taken: dict[int, Mention] = {}
    for mention in mentions:
        for i in range(mention.start, mention.end):
            taken[i] = mention
    stop = (groups["determiner"] | groups["preposition"] | groups["conjunction"] | groups["be"] | groups["have"] | groups["pronoun"] | groups["subject_pronoun"]
            | groups["auxiliary"] | groups["adverb"] | groups["adjective"] | groups["not_a_part"] | groups["become"] | groups["opener"] | groups["common_verb"]
            | groups["day"] | groups["self"] | groups["filler"] | groups["object_pronoun"] | groups["particle"])  # fmt: skip
    n = len(words)
    added: list[Mention] = []
    i = 0
    while i < n:
        fresh = i == 0 or i in talk.breaks or words[i - 1] in (".", "!", "?", ";", ":", ",") or words[i - 1] in groups["opener"] or words[i - 1] in ("and", "but")
        heard_only = not fresh and not talk.punctuated and (words[i] in ("the", "its") or words[i - 1] in ("the", "its"))
        if not fresh and not heard_only:
            i += 1
            continue
        k = i
        determined = False
        while k < n and k - i < 4 and (taken.get(k) is not None and taken[k].kind in ("place", "quantity") or words[k] in ("the", "its", "both", "his", "her") or words[k] in groups["adjective"] and taken.get(k) is None):
            determined = determined or words[k] in ("the", "its", "both") or taken.get(k) is not None and taken[k].kind == "place"
            k = taken[k].end if taken.get(k) is not None else k + 1
        begin = k
        while k < n and k - begin < 3 and taken.get(k) is None and (k == begin or k not in talk.breaks) and words[k].isalpha() and len(words[k]) > 2 and words[k] not in stop:
            k += 1
        if k == begin:
            i += 1
            continue
        nxt, after = (words[k] if k < n else "."), taken.get(k)
        near = next((taken[j] for j in range(k, min(n, k + 6)) if taken.get(j) is not None and taken[j].kind in ("condition", "action", "cue:needed", "cue:ordered", "cue:on_hand")), None)
        verbal = nxt in groups["be"] or nxt in groups["have"]
        said = after is not None and after.kind in ("condition", "cue:ordered", "cue:needed", "cue:on_hand", "place")
        if near is not None and (verbal and determined or said and (determined or talk.terse) or nxt in (",", ":") and (determined or talk.terse)):
            label = singular(" ".join(words[begin:k]), talk.lexicon)
            ghost = Mention("component", "unknown", begin, k, "name", label)
            ghost.why.append("not in the lexicon")
            if not talk.punctuated:
                _hear_again(talk, ghost, k, n, taken)
            if ghost.id != "unknown" or not heard_only:
                added.append(ghost)
                i = ghost.end
                continue
        i += 1
    if not added:
        return mentions
    return sorted(mentions + added, key=lambda m: m.start)


def singular(name: str, lexicon: Lexicon) -> str:
    """The singular of a name, when its last word is the plural of a part word."""
    head, _, last = name.rpartition(" ")
    single = _plurals(lexicon).get(last, last)
    return f"{head} {single}" if head else single


@functools.lru_cache(maxsize=4)
def _plurals(lexicon: Lexicon) -> dict[str, str]:
    """Plural to singular of the part words and of the fasteners' names."""
    return {plural(word): word for word in (*lexicon.part_words, *_FASTENER_ENDS)}


@Language.factory("notelog_mentions", assigns=["doc._.talk"])
def make_mentions(nlp: Language, name: str):
    """Factory of the component; the lexicon is the one that ships with the package."""
    return Mentions()


class Mentions:
    """Finds the lexicon's forms in a Doc and leaves them, settled, in `doc._.talk.mentions`."""

    def __init__(self, lexicon: Lexicon | None = None):
        self.lexicon = lexicon

    def __call__(self, doc: Doc) -> Doc:
        lexicon = self.lexicon or load()
        talk = talk_of(doc, lexicon)
        forms = forms_of(lexicon)
        found = _raw(talk, forms)
        _split_verbs(talk, forms, found)
        found.sort(key=lambda m: (m.start, -m.end))
        settled: list[Mention] = []
        for number, mention in enumerate(found):
            only = mention.forms[0] if len(mention.forms) == 1 else None
            if only is not None and only.kind == "action" and only.tag == "base" and mention.start and talk.words[mention.start - 1] in ("a", "an", "the", "no", "any", "another"):
                continue
            if only is not None and only.kind == "action" and only.tag == "s" and talk.words[mention.end : mention.end + 1] and talk.words[mention.end] in ("need", "are", "were", "have", "want"):
                continue  # "the tracks need", "both seals are": a plural
            if len(mention.forms) > 1 or mention.forms and mention.forms[0].tag == "state":
                before = settled[-1] if settled else None
                after = found[number + 1] if number + 1 < len(found) else None
                form = _settle(talk, mention, before, after)
                if form is None:
                    continue
                mention.kind, mention.id, mention.tag = form.kind, form.id, form.tag
            settled.append(mention)
        found = _unknown_topics(talk, _chunks(talk, settled))
        if not talk.punctuated:
            starts = {m.start: m for m in found}
            for mention in found:
                if mention.kind == "component" and mention.id == "unknown":
                    _hear_again(talk, mention, mention.end, len(talk.words), starts)
        talk.mentions = _weak(talk, forms, found)
        at: list[Mention | None] = [None] * len(talk.words)
        for mention in talk.mentions:
            if mention.kind != "weak":
                for i in range(mention.start, mention.end):
                    at[i] = mention
        talk.at = at
        return doc
