"""The component `notelog_mentions`: finds the words of the trade, longest form first.

Forms come from the lexicon alone. A form that can mean several things ("split": a condition, or what was done to a
joint) is settled by the words beside it. Part words that no entry holds ("lane camera" + "bracket") become components of
their own, marked unknown.
"""

from __future__ import annotations

import bisect
import functools
import re

from spacy.attrs import LENGTH, SPACY
from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import Form, Lexicon, forms_of, load, normal
from notelog.lexicon.inflect import plural
from notelog.lexicon.sounds import sounds_like
from notelog.understanding.state import Mention, Talk

_PLACE_WORDS = {"front": 1, "rear": 1, "back": 1, "upper": 2, "top": 2, "lower": 2, "bottom": 2, "inner": 3, "outer": 3}
_PLACE_VALUE = {"front": "front", "rear": "rear", "back": "rear", "upper": "upper", "top": "upper", "lower": "lower",
                "bottom": "lower", "inner": "inner", "outer": "outer"}  # fmt: skip
_SENTENCE_START = re.compile(r"[.!?]\s+[A-Za-z]")
_LINE_START = re.compile(r"[^\s.!?:;][ \t]*\n[^\n]")
USUAL_OBJECT = {"align": "wheel_alignment", "bleed": "brake_system"}
_NO_PART_OF_A_NAME = ("determiner", "preposition", "conjunction", "be", "have", "pronoun", "subject_pronoun", "auxiliary", "adverb", "adjective",
                      "not_a_part", "become", "opener", "common_verb", "day")  # fmt: skip
_TOPIC_AFTER = {".", "!", "?", ";", ":", ",", "and", "but"}
_VERB_TAGS = {"base", "s", "past", "part", "ed", "same", "ing"}


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
    text = doc._.heard.mapped.text if doc._.heard is not None else doc.text
    lines = text.strip().count("\n") + 1
    prose = _capitals_begin_sentences(text)
    soft = _soft_lines(text.strip()) or prose and _small_starts(text)
    curly = "\u2019" in text
    low = text.lower() if text.isascii() else ""
    start = 0
    for length, space in doc.to_array([LENGTH, SPACY]).tolist():
        end = start + length
        word = low[start:end] or text[start:end].lower()
        if word.isspace():
            if "\n" in word and words:
                if word.count("\n") == 1 and not soft and _goes_on(text, end, words[-1], prose, lexicon):
                    lines -= 1
                elif word.count("\n") > 1 or not soft:
                    breaks.add(len(words))
        elif not (word in fillers or word == "-" and _inside_word(text, start)):
            if word in abbreviations:
                word = abbreviations[word] or word
            elif curly:
                word = word.replace("\u2019", "'")
            words.append(word)
            starts.append(start)
            ends.append(end)
        start = end + space
    _drop_stray_stops(text, words, starts, ends, breaks, lexicon)
    _join_halves(words, starts, ends, breaks, lexicon)
    stops, punctuated = _trust(words, lexicon)
    terse = stops and len(words) / max(1, lines + words.count(".")) < 9
    return Talk(lexicon, doc._.driver_side, doc._.heard, words, starts, ends, breaks, stops, punctuated, terse)


def _capitals_begin_sentences(text: str) -> bool:
    """Whether sentences start with a capital here, so that a line that starts with a small letter goes on with one."""
    after = [text[match.end() - 1] for match in _SENTENCE_START.finditer(text)]
    return bool(after) and sum(letter.isupper() for letter in after) >= 0.8 * len(after)


def _small_starts(text: str) -> bool:
    """Whether most lines that no full stop ended are followed by one that starts with a small letter."""
    starts = [text[match.end() - 1] for match in _LINE_START.finditer(text)]
    return len(starts) > 2 and sum(letter.islower() for letter in starts) >= 0.6 * len(starts)


def _goes_on(text: str, end: int, before: str, prose: bool, lexicon: Lexicon) -> bool:
    """Whether a sentence goes on over a line's end, the next line starting at `end`: the line ends in "the" or "and", or the next one starts small in prose."""
    if before in (".", "!", "?", ":", ";"):
        return False
    small = text[end : end + 1].islower() or text[end : end + 2] in ("I ", "I'")
    return before in lexicon.words["line_goes_on"] or prose and small


def _drop_stray_stops(text: str, words: list[str], starts: list[int], ends: list[int], breaks: set[int], lexicon: Lexicon) -> None:
    """Takes out full stops in the middle of a part's name ("the lower. arm"); `breaks` are moved along."""
    stray = [i for i in range(1, len(words) - 1) if words[i] == "." and text[starts[i + 1]].islower() and i + 1 not in breaks and _name_over(words, i, lexicon)]
    _take_out(stray, words, starts, ends, breaks)


def _name_over(words: list[str], stop: int, lexicon: Lexicon) -> bool:
    """Whether the words on both sides of a full stop are one name of a part, and those before it are none."""
    whole = forms_of(lexicon).whole
    for before in range(1, min(3, stop) + 1):
        left = tuple(words[stop - before : stop])
        if any(form.kind == "component" for form in whole.get(left, ())):
            return False
        for after in (1, 2):
            if any(form.kind == "component" for form in whole.get((*left, *words[stop + 1 : stop + 1 + after]), ())):
                return True
    return False


def _take_out(gone: list[int], words: list[str], starts: list[int], ends: list[int], breaks: set[int]) -> None:
    """Takes words out of the lists by their numbers, in order; `breaks` are moved along."""
    if not gone:
        return
    lost = set(gone)
    for values in (words, starts, ends):
        values[:] = [value for i, value in enumerate(values) if i not in lost]
    moved = {b - bisect.bisect_left(gone, b) for b in breaks}
    breaks.clear()
    breaks |= moved


def _join_halves(words: list[str], starts: list[int], ends: list[int], breaks: set[int], lexicon: Lexicon) -> None:
    """Puts together long trade words that were cut in two ("inter cooler"); `breaks` are moved along."""
    forms = forms_of(lexicon)
    joined, whole = forms.joined, forms.whole
    halves = [i for i, (left, right) in enumerate(zip(words, words[1:])) if left + right in joined and i + 1 not in breaks and left.isalpha() and right.isalpha()
              and not any(begin + length > i + 1 and tuple(words[begin : begin + length]) in whole for begin in range(max(0, i - 2), i + 1)
                          for length in forms.lengths_at(words, begin)[:-1])]  # fmt: skip
    gone: list[int] = []
    for i in halves:
        if not gone or gone[-1] != i:
            words[i] += words[i + 1]
            ends[i] = ends[i + 1]
            gone.append(i + 1)
    _take_out(gone, words, starts, ends, breaks)


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
    open_ends = lexicon.words["determiner"] | lexicon.words["preposition"] | lexicon.words["open_end"]
    open_ends -= lexicon.words["ends_a_sentence"]
    wrong = sum(1 for i in stops if i and words[i - 1] in open_ends)
    trusted = wrong <= 0.12 * len(stops)
    marks = len(stops) + words.count(";") + words.count(":")
    return trusted, trusted and marks * 45 >= len(words)


def _raw(talk: Talk, forms) -> list[Mention]:
    words, whole, longer, single, places = talk.words, forms.whole, forms.lengths, forms.single, _single_places(talk.lexicon)
    quantities = {}
    if talk.heard is not None:
        quantities = {q.start: q for q in talk.heard.quantities}
    found: list[Mention] = []
    starts = talk.starts
    apart = talk.lexicon.words["comes_apart"]
    i, n = 0, len(words)
    while i < n:
        quantity = quantities[starts[i]] if starts[i] in quantities else None
        end = i + 1
        if quantity is not None:
            while end < n and talk.starts[end] < quantity.end:
                end += 1
        if quantity is not None and not _numbered(words, forms, i, end):
            found.append(Mention("quantity", quantity.unit or "number", i, end, low=quantity.low, high=quantity.high, unit=quantity.unit))
            i = end
            continue
        word = words[i]
        lengths = longer[word].get(words[i + 1], ()) if word in longer and i + 1 < n else ()
        if word in places and _place_alone(words, forms, i):
            lengths = ()
        for length in (*lengths, 1):
            if i + length > n:
                continue
            known = whole.get(tuple(words[i : i + length])) if length > 1 else single.get(word)
            if known is not None and length > 1 and i and known[0].kind == "action" and known[0].tag in ("s", "base") and _noun_place(talk, found, i):
                known = None  # "two bolts up top" is no verb
            if known is not None and length > 1 and i + length < n and words[i + length] == "'s" and words[i + length - 1] in ("it", "that"):
                known = None  # "I said left it's the right one": the pronoun starts the next statement
            if known is not None and known[0].kind == "cue:on_hand" and i + length < n and words[i + length] in apart and words[i + length - 1].startswith(("came", "come")):
                known = [Form("cue:pseudo", "pseudo")]  # "it came off" is no delivery
            if known is not None and (length == 1 or talk.breaks.isdisjoint(range(i + 1, i + length))):
                found.append(Mention(known[0].kind, known[0].id, i, i + length, known[0].tag, forms=known))
                if length > 2 and known[0].kind in ("action", "condition"):
                    _inner_tool(words, whole, i, i + length, found)
                i += length
                break
        else:
            i += 1
    return found


@functools.lru_cache(maxsize=4)
def _single_places(lexicon: Lexicon) -> frozenset[str]:
    """The places that one word names: "left", "rear", "nearside"."""
    return frozenset(place["said"] for place in lexicon.places if " " not in place["said"])


def _numbered(words: list[str], forms, i: int, end: int) -> bool:
    """Whether the number at words i:end begins the name of one thing: "7 pin plug", "12V socket"."""
    for length in forms.lengths_at(words, i):
        known = forms.whole.get(tuple(words[i : i + length])) if length > end - i else None
        if known is not None and known[0].kind in ("component", "tool", "material") and known[0].tag != "plural":
            return True
    return False


def _place_alone(words: list[str], forms, i: int) -> bool:
    """Whether the place word at i stands by itself before a part: "left quarter panel" is a panel, "rear brake cable" is
    a brake cable at the rear, and not the rear brake's "cable"."""
    whole = forms.whole
    own = next((length for length in forms.lengths_at(words, i) if tuple(words[i : i + length]) in whole), 1)
    if own > 1 and whole[tuple(words[i : i + own])][0].kind != "component":
        return False  # "left rear"
    for length in forms.lengths_at(words, i + 1) if i + 1 < len(words) else ():
        known = whole.get(tuple(words[i + 1 : i + 1 + length]))
        if length > max(own - 1, 1) and known is not None and known[0].kind == "component":
            return True
    return False


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
    gone: set[int] = set()
    split = forms.split
    for i, word in enumerate(words):
        if word not in split:
            continue
        tails = split[word]
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
                if tail[0] == words[at] and tuple(words[at : at + len(tail)]) == tail:
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
            if here is not None:
                gone.add(id(here))
            blocked = [taken.get(k) for k in range(at, at + len(tail))]
            for other in blocked:
                if other is not None and other.kind in ("action", "place", "cue:landmark"):
                    gone.add(id(other))
            found.append(mention)
            taken[i] = mention
            for k in range(at, at + len(tail)):
                taken[k] = mention
            break
    if gone:
        found[:] = [mention for mention in found if id(mention) not in gone]


def _state_stands(talk: Talk, mention: Mention, before: Mention | None, after: Mention | None) -> bool:
    """Whether "off", "out", "in", "on" say a state ("the wheel's off") and are no prepositions ("on the hub")."""
    words, groups = talk.words, talk.lexicon.words
    end = mention.end
    i = mention.start - 1
    while i >= 0 and words[i] in groups["adverb"] and not (before is not None and before.end - 1 == i):
        i -= 1
    left = words[i] if i >= 0 else "."
    thing_before = before is not None and before.end == i + 1 and before.kind in ("component", "part_word", "fastener")
    if not (left in groups["before_state"] or left in groups["be"] or thing_before):
        return False
    if end >= len(words) or end in talk.breaks:
        return True
    right = words[end]
    if words[mention.start] in ("on", "in") and end - mention.start == 1 and thing_before and after is not None and after.start == end and after.kind in ("component", "part_word", "place"):
        return False  # "corrosion on left hand sill"
    if right in (".", ",", ";", ":", "!", "?", ")", "-", "–") or right in groups["break"] or right in groups["after_state"]:
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
    actor = left in groups["self"] or left in groups["actor"]
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
        if state and left in groups["before_state"] and mention.end - mention.start >= 1 and (after is None or after.kind not in ("component", "part_word") or after.start > end):
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
    stop = _no_part_words(lexicon)
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
        short = mention.kind == "component" and mention.end - mention.start == 1 and singular(words[mention.start], lexicon) in groups["short_name"]
        if short and adjacent and last.kind == "component":
            joined[-1] = _compound(talk, last, mention)
            continue
        if mention.kind == "part_word" or short:
            begin = _compound_from(talk, mention, last.end if last is not None else 0, stop | groups["area"] if short else stop)
            if begin < mention.start or not short and lexicon.part_words[mention.id] != "weak":
                label = singular(" ".join(words[begin : mention.end]), lexicon)
                term = names.get(label)
                joined.append(Mention("component", term.id if term else "unknown", begin, mention.end, mention.tag, term.label if term else label))
                continue
            if not short:
                continue
        joined.append(mention)
    for place, thing in zip(joined, joined[1:]):
        if thing.kind == "component" and (thing.id == "unknown" or thing.end - thing.start == 1 and singular(words[thing.start], lexicon) in groups["short_name"]):
            _with_place(talk, place, thing)
    at_start = {mention.start for mention in joined}
    for mention in joined:
        if mention.kind == "component":
            if mention.end < len(words) and words[mention.end] in groups["suffix"] and mention.end not in at_start and mention.end not in talk.breaks:
                mention.end += 1
            _finish(talk, mention)
    return joined


def _finish(talk: Talk, mention: Mention) -> None:
    """Fills in what a component's own words say of it: its label, the fastener it ends in, its place."""
    lexicon, words = talk.lexicon, talk.words
    term = lexicon.terms["component"].get(mention.id)
    if not mention.label and term is not None:
        mention.label = term.label
    last_word = singular(words[mention.end - 1], lexicon)
    if last_word in lexicon.words["suffix"] and mention.end - mention.start > 1:
        last_word = singular(words[mention.end - 2], lexicon)
    if not mention.fastener and last_word in lexicon.terms["fastener"]:
        mention.fastener = last_word
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


def component_mention(talk: Talk, start: int, end: int) -> Mention | None:
    """The component that the words `start:end` name: the lexicon's where it has the name, else an unknown one; None where
    nothing is left without articles, sides and marks."""
    words, lexicon = talk.words, talk.lexicon
    groups = lexicon.words
    light = groups["determiner"] | groups["preposition"] | groups["conjunction"] | groups["adverb"] | groups["be"] | groups["have"] | groups["pronoun"] | groups["subject_pronoun"] | groups["object_pronoun"]
    sides = {"left", "right", "nearside", "offside", "lh", "rh", "side", "new", "old", "itself"}

    def empty(i: int) -> bool:
        mention = talk.at[i]
        return words[i] in light or words[i] in sides or not words[i][0].isalnum() or mention is not None and mention.kind == "place" and words[i] not in _PLACE_WORDS

    while start < end and empty(start):
        start += 1
    for i in range(start + 1, end):
        if words[i] in groups["preposition"] or words[i] in (",", ".", ":", ";") or talk.at[i] is not None and talk.at[i].kind == "place" and words[i] not in _PLACE_WORDS:
            end = i  # "coolant line to the pack" is a coolant line
            break
    while end > start and empty(end - 1):
        end -= 1
    if start == end or not any(word[0].isalpha() for word in words[start:end]):
        return None
    last = words[end - 1]
    label = singular(" ".join(words[start:end]), lexicon)
    term = lexicon.by_name("component").get(label)
    plural_word = singular(last, lexicon) != last
    mention = Mention("component", term.id if term else "unknown", start, end, "plural" if plural_word else "name", term.label if term else label)
    _finish(talk, mention)
    if term is None:
        mention.why.append("not in the lexicon")
    return mention


def _with_place(talk: Talk, place: Mention | None, thing: Mention) -> None:
    """ "Nearside rear lamp": the end that was said with the side belongs to the part's name too."""
    if place is None or place.kind != "place" or place.end != thing.start:
        return
    row = talk.lexicon.places[int(place.id)]
    said = " ".join(talk.words[thing.start : thing.end])
    for end in (row["axle"], row["level"], row["depth"]):
        term = talk.lexicon.by_name("component").get(singular(f"{end} {said}", talk.lexicon)) if end else None
        if term is not None:
            thing.id, thing.label = term.id, term.label
            return


def _compound_from(talk: Talk, head: Mention, limit: int, stop: frozenset[str]) -> int:
    """Where the unknown nouns in front of a part's short name start: "awning rail", "tarp frame hinge"; the head's own start
    when there are none."""
    words = talk.words
    begin = head.start
    while begin > limit and head.start - begin < 3 and begin not in talk.breaks and words[begin - 1] not in stop and _may_be_noun(talk, words[begin - 1]):
        begin -= 1
    return begin


def _compound(talk: Talk, owner: Mention, head: Mention) -> Mention:
    """The part that a known part and a short name behind it name together, by any name of the known one."""
    lexicon = talk.lexicon
    said = singular(" ".join(talk.words[owner.start : head.end]), lexicon)
    short, names = singular(talk.words[head.start], lexicon), lexicon.by_name("component")
    term = lexicon.terms["component"].get(owner.id)
    found = next((names[normal(f"{name} {short}")] for name in (term.names if term is not None else ()) if normal(f"{name} {short}") in names), None)
    return Mention("component", found.id if found else "unknown", owner.start, head.end, head.tag, found.label if found else said)


def _unknown_heads(talk: Talk, found: list[Mention]) -> None:
    """ "The blower ventlet is cracked": a known part and a noun that no list holds name another part together, where a verb
    or a condition follows."""
    words, groups = talk.words, talk.lexicon.words
    stop = _no_part_words(talk.lexicon) | groups["area"]
    for number, mention in enumerate(found):
        k = mention.end
        if mention.kind != "component" or mention.tag == "plural" or k + 1 >= len(words) or k in talk.breaks or k + 1 in talk.breaks or not words[k].isalpha():
            continue
        after = found[number + 1] if number + 1 < len(found) else None
        if len(words[k]) < 4 or words[k] in stop or not _may_be_noun(talk, words[k]) or after is not None and after.start == k:
            continue
        said = after is not None and after.start == k + 1 and after.kind == "condition" and after.tag == "pred" and not words[k].endswith(("ing", "ed"))
        if words[k + 1] in groups["be"] or words[k + 1] in groups["have"] or said:
            mention.id, mention.end = "unknown", k + 1
            mention.label, mention.tag = " ".join(words[mention.start : k + 1]), "name"
            mention.why.append("not in the lexicon")


def _may_be_noun(talk: Talk, word: str) -> bool:
    """Whether a word that no list holds may name a part: it looks like no adjective and no "he heats", unless a part's
    name holds it."""
    if not word[0].isalpha() or len(word) < 2:
        return False
    odd = word.endswith(tuple(talk.lexicon.words["adjective_ending"])) or word.endswith("s") and not word.endswith("ss")
    return not odd or word in _name_words(talk.lexicon)


def _no_part_words(lexicon: Lexicon) -> frozenset[str]:
    """Words that are no part of a part's name, unless an entry has them."""
    return _group_words(lexicon, _NO_PART_OF_A_NAME)


@functools.lru_cache(maxsize=4)
def _name_words(lexicon: Lexicon) -> frozenset[str]:
    """Every word of a component's name."""
    return frozenset(word for term in lexicon.terms["component"].values() for name in term.names for word in name.split(" "))


def hear_again(talk: Talk, mention: Mention, end: int, limit: int, taken: dict[int, Mention]) -> None:
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
        if words[i] not in longest or taken[i]:
            i += 1
            continue
        reach = longest[words[i]]
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
    stop = _group_words(talk.lexicon, (*_NO_PART_OF_A_NAME, "self", "filler", "object_pronoun", "particle"))
    openers = groups["opener"]
    n = len(words)
    added: list[Mention] = []
    i = 0
    while i < n:
        left = words[i - 1]
        fresh = i == 0 or left in _TOPIC_AFTER or left in openers or i in talk.breaks
        heard_only = not fresh and not talk.punctuated and (words[i] in ("the", "its") or left in ("the", "its"))
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
                hear_again(talk, ghost, k, n, taken)
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


@functools.lru_cache(maxsize=8)
def _group_words(lexicon: Lexicon, groups: tuple[str, ...]) -> frozenset[str]:
    return frozenset().union(*(lexicon.words[group] for group in groups))


@functools.lru_cache(maxsize=4)
def _plurals(lexicon: Lexicon) -> dict[str, str]:
    """Plural to singular of the part words and of the fasteners' names."""
    return {plural(word): word for word in (*lexicon.part_words, *lexicon.terms["fastener"])}


@Language.factory("notelog_mentions", assigns=["doc._.talk"])
def make_mentions(nlp: Language, name: str):
    """Factory of the component; the lexicon is that of the Doc's Talk, else the one that ships with the package."""
    return Mentions()


class Mentions:
    """Finds the lexicon's forms in a Doc and leaves them, settled, in `doc._.talk.mentions`."""

    def __init__(self, lexicon: Lexicon | None = None):
        self.lexicon = lexicon

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, self.lexicon or load())
        forms = forms_of(talk.lexicon)
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
        found = _chunks(talk, settled)
        _unknown_heads(talk, found)
        found = _unknown_topics(talk, found)
        if not talk.punctuated:
            starts = {m.start: m for m in found}
            for mention in found:
                if mention.kind == "component" and mention.id == "unknown":
                    hear_again(talk, mention, mention.end, len(talk.words), starts)
        talk.mentions = _weak(talk, forms, found)
        at: list[Mention | None] = [None] * len(talk.words)
        for mention in talk.mentions:
            if mention.kind != "weak":
                for i in range(mention.start, mention.end):
                    at[i] = mention
        talk.at = at
        return doc
