"""The component `notelog_places`: where each thing is, and the announced place that holds until the next one.

Nearside and driver's side become left or right by where the driver sits; "other side" flips the side that held.
"""

from __future__ import annotations

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import load
from notelog.understanding.mentions import talk_of
from notelog.understanding.state import NOWHERE, Mention, Place, Talk

_OPPOSITE = {"left": "right", "right": "left", "both": "both", "": ""}


@Language.factory("notelog_places", requires=["doc._.talk"])
def make_places(nlp: Language, name: str):
    """Factory of the component."""
    return Places()


def merged(own: Place, running: Place) -> Place:
    """`own` with what it leaves open taken from `running`; level and depth are never carried over.

    >>> merged(("left", "", "", ""), ("right", "front", "", ""))
    ('left', 'front', '', '')
    """
    return (own[0] or running[0], own[1] or running[1], own[2], own[3])


def _value(talk: Talk, mention: Mention, running: Place) -> Place:
    row = talk.lexicon.places[int(mention.id)]
    side = row["side"]
    if talk.driver_side == "right" and row["said"] in ("rr", "fr"):
        return ("", row["axle"], "", "")  # typed in the UK, "Rr" is rear and "Fr" front
    if side == "driver":
        side = talk.driver_side
    elif side == "kerb":
        side = _OPPOSITE[talk.driver_side]
    elif side == "other":
        side = _OPPOSITE[running[0]]
    return (side, row["axle"], row["level"], row["depth"])


def _joined(a: Place, b: Place) -> Place:
    return tuple(x or y for x, y in zip(a, b))


def _is_place(talk: Talk, mention: Mention, before: Mention | None) -> bool:
    """Whether words that are also plain English ("left", "right", "back") mean a place here."""
    words = talk.words
    start, end = mention.start, mention.end
    word = words[start]
    left = words[start - 1] if start else "."
    right = words[end] if end < len(words) else "."
    nxt = talk.at[end] if end < len(words) else None
    thing_next = nxt is not None and nxt.kind in ("component", "place", "fastener", "part_word")
    if end - start > 1:
        return True
    if word in ("left", "right") and before is not None and before.kind == "cue:correction" and start - before.end <= 1:
        return True
    if word == "left":
        if left in talk.lexicon.words["left_is_a_verb"] or before is not None and before.kind == "quantity" and before.end == start:
            return thing_next and left in ("'s", "is", "are")
        return thing_next or right in talk.lexicon.words["side_noun"] or left in ("the", "on", "to") or right in (".", ",", ":", "is", "'s")
    if word == "right":
        if thing_next:
            return True
        if right in talk.lexicon.words["side_noun"] and right not in ("one",) or right == "one" and left == "the":
            return True
        return left in ("the", "on", "to") and right in (".", ",", ":", "is", "and", "too", "but", "now") and left != "to"
    if word in ("driver", "passenger", "drivers", "passengers", "driver's"):
        return thing_next or right in ("side", "'s", "end")
    if word in ("both", "either"):
        return thing_next
    if word in talk.lexicon.words["plain_place"]:
        return thing_next or right in ("left", "right", "end", "corner", "one", "ones") or left == "the" and right in (".", ",", "and", "is", "'s") or left in ("at", "on", "in") and word in ("front", "rear") or talk.terse
    return True


class Places:
    """Gives every component mention its place and every clause the place that holds in it."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        running: Place = NOWHERE
        announced = False
        words, at = talk.words, talk.at
        kept: list[Mention] = []
        previous = None
        dropped = set()
        for mention in talk.mentions:
            if mention.kind == "place" and not _is_place(talk, mention, previous):
                dropped.add(id(mention))
                for i in range(mention.start, mention.end):
                    at[i] = None
                continue
            kept.append(mention)
            previous = mention
        talk.mentions = kept
        sentence = -1
        for clause in talk.clauses:
            if dropped:
                clause.mentions = [m for m in clause.mentions if id(m) not in dropped]
            new_sentence = clause.sentence != sentence
            sentence = clause.sentence
            mentions = clause.mentions
            number = 0
            while number < len(mentions):
                mention = mentions[number]
                if mention.kind != "place":
                    if mention.kind == "component" and (mention.place[0] or mention.place[1]) and mention.label.rpartition(" ")[2] not in talk.lexicon.words["end_of_a_part"]:
                        talk.named_places.append((mention.start, *mention.place[:2]))
                    if mention.kind == "component" and mention.place[1] and not announced and _outer(talk, mention) and running[1] != mention.place[1]:
                        running = (running[0] if not running[1] else "", mention.place[1], "", "")
                    number += 1
                    continue
                place = _value(talk, mention, running)
                end = mention.end
                last = number
                while last + 1 < len(mentions) and mentions[last + 1].kind == "place" and mentions[last + 1].start - end <= 1:
                    last += 1
                    place = _joined(place, _value(talk, mentions[last], running))
                    end = mentions[last].end
                number_after = last + 1
                if place[0] or place[1]:
                    talk.named_places.append((mention.start, *place[:2]))
                k = end
                while k < clause.end and (words[k] in talk.lexicon.words["adjective"] or at[k] is not None and at[k].kind in ("condition", "quantity") and k < end + 3):
                    k += 1
                follower = at[k] if k < clause.end else None
                other = any("other" == talk.lexicon.places[int(m.id)]["side"] for m in mentions[number : last + 1])
                if follower is not None and follower.kind in ("component", "fastener") and not other:
                    for member in _list_from(talk, clause, follower):
                        member.place = _joined(member.place, place)
                        member.placed = True
                    if place[0] in ("left", "right") and (not announced or new_sentence and place[0] and place[1]) and words[max(0, mention.start - 1)] != "other":
                        running = merged((place[0], place[1], "", ""), running if not place[1] else NOWHERE)
                    elif not place[0] and place[1] and not announced and (not running[1] or _outer(talk, follower)):
                        running = (running[0], place[1], "", "") if running[1] in ("", place[1]) else ("", place[1], "", "")
                    number = number_after
                    continue
                owner = next((m for m in reversed(mentions[:number]) if m.kind in ("component", "fastener")), None)
                one_next = end < len(words) and words[end] in ("one", "ones", "'s")
                if owner is not None and not owner.placed and not other and not one_next and (place[0] or place[1] or place[2] or place[3]) and not _announces(talk, mention, end):
                    owner.place = _joined(owner.place, place)
                    owner.placed = bool(place[0] or place[1])
                    if place[0] in ("left", "right") and place[1] and not announced and not running[0]:
                        running = (place[0], place[1], "", "")  # "it hit a post with the offside front": the corner that was hit
                elif place[0] in ("left", "right") or place[1] or other:
                    if not one_next or other:
                        running = (place[0] or (running[0] if place[1] in ("", running[1]) else ""), place[1] or running[1], "", "")
                        if place[0] == "both":
                            running = ("", place[1] or running[1], "", "")
                        announced = announced or bool(place[0])
                number = number_after
            clause.place = running
        return doc


def _outer(talk: Talk, mention: Mention) -> bool:
    """Whether a part's front or rear says at which end of the vehicle the talk is ("rear bumper", not "rear bush")."""
    term = talk.lexicon.terms["component"].get(mention.id)
    return term is not None and term.system in ("body", "structure", "doors", "lamps", "exhaust")


def _announces(talk: Talk, mention: Mention, end: int) -> bool:
    """ "... so that is done, offside front now": the place stands for itself after a comma, or with "now", "over to", "I'm on"."""
    words = talk.words
    if tuple(words[max(0, mention.start - 2) : mention.start]) in (("on", "the"), ("at", "the")) and words[max(0, mention.start - 3)] in ("'m", "im", "i'm", "'re", "were", "working", "starting", "looking"):
        return True
    after = words[end] if end < len(words) else "."
    if after in (":",) or after == "now" and not talk.terse:
        return True
    return words[mention.start - 1] in ("to", "onto") and mention.start - 2 >= 0 and words[mention.start - 2] in talk.lexicon.words["moving_on"]


def _list_from(talk: Talk, clause, first: Mention) -> list[Mention]:
    """The members of a list that starts with `first` and share its place ("nearside wing, bumper and headlamp")."""
    members = [first]
    words = talk.words
    end = first.end
    for mention in clause.mentions:
        if mention.start < end:
            continue
        between = words[end : mention.start]
        if mention.kind not in ("component",) or any(word not in ("and", ",", "&", "+", "or", "the") for word in between):
            break
        members.append(mention)
        end = mention.end
    return members
