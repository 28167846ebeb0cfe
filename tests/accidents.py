"""Generated jobs with planted kinds of accident, for the test bed of the archive's answers.

A job is of one kind and on one side. What is broken is drawn from the kind with stated chances; how it is said is drawn from the
names of both shores and several words for each condition. Beside it stand parts of other kinds that are said to be good or
not damaged, what would have been, and everyday work, as technicians say it.
"""

import random
from dataclasses import dataclass, field

NAMES = {
    "wheel": ["wheel", "road wheel", "rim"],
    "tyre": ["tyre", "tire"],
    "lower_arm": ["lower arm", "wishbone", "lower control arm"],
    "track_rod_end": ["track rod end", "outer tie rod", "tie rod end"],
    "inner_tie_rod": ["inner tie rod", "inner track rod"],
    "strut": ["strut", "suspension leg"],
    "strut_top_mount": ["strut top mount", "upper strut mount"],
    "anti_roll_bar_link": ["drop link", "anti-roll bar link", "sway bar link"],
    "hub": ["hub", "wheel hub"],
    "bumper": ["bumper", "bumper cover"],
    "boot_lid": ["boot lid", "trunk lid"],
    "rear_panel": ["rear panel", "tail panel"],
    "tail_lamp": ["rear lamp", "tail light", "taillight"],
    "exhaust_silencer": ["silencer", "muffler"],
    "bonnet": ["bonnet", "hood"],
    "radiator": ["radiator"],
    "condenser": ["condenser"],
    "headlamp": ["headlamp", "headlight"],
    "slam_panel": ["slam panel", "radiator support"],
    "grille": ["grille", "front grille"],
    "windscreen": ["windscreen", "windshield"],
    "wing": ["wing", "fender"],
    "door": ["door"],
    "mirror": ["door mirror", "wing mirror"],
    "b_pillar": ["b-pillar", "b pillar"],
    "sill": ["sill", "rocker panel"],
    "quarter_panel": ["quarter panel", "rear quarter panel"],
    "roof": ["roof", "roof skin"],
    "sump": ["sump", "oil pan"],
    "undertray": ["undertray", "engine undertray", "splash shield"],
    "catalyst": ["catalytic converter", "cat"],
    "exhaust": ["front pipe", "downpipe"],
    "axle_beam": ["rear axle beam", "rear axle"],
    "trailing_arm": ["trailing arm"],
    "damper": ["damper", "shock absorber", "shock"],
    "cv_boot": ["cv boot", "cv gaiter"],
    "driveshaft": ["driveshaft", "axle shaft"],
    "wheel_bearing": ["wheel bearing"],
    "loom": ["wiring loom", "wiring harness"],
    "battery": ["battery"],
    "subframe": ["subframe", "cradle"],
    "steering_rack": ["steering rack", "rack"],
}
SAID = {
    "bent": ["bent", "kinked", "twisted", "out of shape"],
    "buckled": ["buckled", "out of true", "warped"],
    "dented": ["dented", "creased", "dinged"],
    "cracked": ["cracked", "cracked right through"],
    "broken": ["broken", "snapped", "in bits"],
    "torn": ["torn", "ripped"],
    "split": ["split"],
    "shattered": ["shattered", "smashed"],
    "scratched": ["scratched", "scuffed", "scraped"],
    "leaking": ["leaking", "weeping"],
    "noisy": ["noisy", "rumbling"],
    "burnt": ["burnt", "melted"],
}


@dataclass(frozen=True)
class Kind:
    """A kind of accident: what is broken with which chance, whether it has a side, and at which axle."""

    name: str
    damage: list[tuple[str, str, float]]
    axle: str = ""
    sided: bool = True


KINDS = [
    Kind("kerb", [("wheel", "buckled", 0.9), ("lower_arm", "bent", 0.9), ("track_rod_end", "bent", 0.7), ("strut", "bent", 0.5),
                  ("inner_tie_rod", "bent", 0.4), ("hub", "bent", 0.25)], "front"),
    Kind("pothole", [("tyre", "split", 0.9), ("wheel", "buckled", 0.6), ("strut", "leaking", 0.7), ("anti_roll_bar_link", "broken", 0.6),
                     ("strut_top_mount", "broken", 0.5)], "front"),
    Kind("shunted", [("bumper", "cracked", 0.9), ("boot_lid", "dented", 0.8), ("rear_panel", "bent", 0.7), ("tail_lamp", "shattered", 0.6),
                     ("exhaust_silencer", "dented", 0.4)], "rear", False),
    Kind("head on", [("bonnet", "buckled", 0.9), ("bumper", "shattered", 0.8), ("radiator", "leaking", 0.7), ("condenser", "leaking", 0.6),
                     ("slam_panel", "bent", 0.7), ("headlamp", "shattered", 0.6)], "", False),
    Kind("animal", [("grille", "broken", 0.9), ("bonnet", "dented", 0.8), ("windscreen", "cracked", 0.6), ("headlamp", "cracked", 0.6),
                    ("wing", "dented", 0.5)], "", False),
    Kind("side", [("door", "dented", 0.95), ("mirror", "broken", 0.6), ("b_pillar", "bent", 0.6), ("sill", "dented", 0.7)]),
    Kind("quarter", [("quarter_panel", "dented", 0.95), ("tail_lamp", "cracked", 0.6), ("trailing_arm", "bent", 0.5),
                     ("wheel", "scratched", 0.5)], "rear"),
    Kind("fallen tree", [("roof", "dented", 0.95), ("windscreen", "shattered", 0.7), ("bonnet", "dented", 0.4), ("mirror", "broken", 0.4)], "", False),
    Kind("underside", [("sump", "cracked", 0.9), ("undertray", "torn", 0.8), ("exhaust", "bent", 0.5), ("catalyst", "dented", 0.5),
                       ("subframe", "bent", 0.3)], "", False),
    Kind("rear kerb", [("axle_beam", "bent", 0.8), ("trailing_arm", "bent", 0.7), ("damper", "leaking", 0.7), ("wheel", "buckled", 0.7)], "rear"),
    Kind("scrape", [("bumper", "scratched", 0.8), ("wing", "scratched", 0.8), ("door", "scratched", 0.7), ("wheel", "scratched", 0.5)]),
    Kind("driveline", [("cv_boot", "torn", 0.9), ("driveshaft", "bent", 0.6), ("wheel_bearing", "noisy", 0.7), ("hub", "cracked", 0.4)], "front"),
    Kind("fire", [("loom", "burnt", 0.95), ("battery", "burnt", 0.7), ("bonnet", "buckled", 0.5), ("steering_rack", "leaking", 0.4)], "", False),
]  # fmt: skip
CLASSES = ["hatchback", "saloon", "estate", "van", "pickup"]
CHATTER = [
    "Had a brew first.", "Took the photos for the file.", "Customer rang twice about it.", "Bay four was busy so it went on the ramp late.",
    "Washed it off before looking.", "Keys are on the board.", "It came in on the back of the recovery truck.", "Checked the tyre pressures all round.",
]  # fmt: skip


@dataclass
class Accident:
    """A generated job: its reference, its kind, its side ("" where the kind has none), the vehicle's class, the text of its note."""

    reference: str
    kind: Kind
    side: str
    vehicle: str
    text: str = ""
    damage: list[tuple[str, str]] = field(default_factory=list)


def accidents(count, seed, first=1):
    """`count` generated jobs, every kind as often as another."""
    dice = random.Random(seed)
    return [_accident(dice, KINDS[number % len(KINDS)], f"J{first + number:05}") for number in range(count)]


def _accident(dice, kind, reference):
    made = Accident(reference, kind, dice.choice(["left", "right"]) if kind.sided else "", dice.choice(CLASSES))
    made.damage = [(part, condition) for part, condition, chance in kind.damage if dice.random() < chance] or [kind.damage[0][:2]]
    shore = dice.randrange(2)
    lines = [_said(dice, made, part, condition, shore) for part, condition in made.damage]
    own = {part for part, _, _ in kind.damage}
    others = dice.sample([(part, condition) for one in KINDS for part, condition, _ in one.damage if part not in own], 4)
    for part, condition in dict(others).items():
        lines.append(_not_so(dice, part, condition, shore))
    lines += dice.sample(CHATTER, 2)
    dice.shuffle(lines)
    made.text = f"{_where(dice, made, shore)} {' '.join(lines)}".strip()
    return made


def _name(dice, part, shore):
    names = NAMES[part]
    return names[min(shore, len(names) - 1)] if dice.random() < 0.7 else dice.choice(names)


def _where(dice, made, shore):
    sides = {"left": ["nearside", "left", "passenger side"], "right": ["offside", "right", "driver's side"]}
    side = dice.choice(sides[made.side][shore : shore + 2]) if made.side else ""
    place = " ".join(filter(None, (side, made.kind.axle)))
    return f"{place.capitalize()} now." if place else ""


def _said(dice, made, part, condition, shore):
    name, said = _name(dice, part, shore), dice.choice(SAID[condition])
    return dice.choice(["The {name} is {said}.", "{name} {said}.", "Found the {name} {said}.", "{name} is {said}, needs a new one."]).format(
        name=name, said=said
    ).capitalize()


def _not_so(dice, part, condition, shore):
    name, said = _name(dice, part, shore), dice.choice(SAID[condition])
    return dice.choice(["The {name} is fine.", "The {name} is not {said}.", "The {name} isn't {said}.",
                        "Looked at the {name}, that's good.", "If the {name} had been {said} I would have said so."]).format(name=name, said=said)  # fmt: skip
