"""What a mood asks of scale, tempo, meter, feel and technique, and how well founded each of these
is.

Sources
    TAN: D. Temperley & D. Tan, "Emotional connotations of diatonic modes", Music Perception 30(3),
    2013, 237-257: listeners judged melodies the less happy the more degrees of their mode were
    lowered: ionian, mixolydian, dorian, aeolian, phrygian, with lydian below ionian. STRUCTURE: A.
    Gabrielsson & E. Lindstroem, "The influence of musical structure on emotional expression", in P.
    N. Juslin & J. A. Sloboda (eds.), Music and Emotion, 2001: fast goes with activity, happiness,
    surprise, anger and fear; slow with calm, dignity, sadness, tenderness. Major goes with
    happiness and serenity, minor with sadness, dreaminess, dignity and tension. CUES: T. Eerola, A.
    Friberg & R. Bresin, "Emotional expression in music", Frontiers in Psychology 4:487, 2013: of
    six cues mode weighs most, tempo next. The directions are theirs. The borders in quarters a
    minute, all scales but the six modes, meters, feel and technique are our own choice, and every
    reason says so.

Conventions
    A range of tempo is in quarters a minute, both ends in. Texts are those of a brief's fields.
"""

from typing import NamedTuple

from loopdeck.errors import UserError, nearest

TAN = "Temperley & Tan 2013"
STRUCTURE = "Gabrielsson & Lindström 2001"
CUES = "Eerola, Friberg & Bresin 2013"

#: The six modes of TAN, and how they were judged. Lydian and mixolydian came out close: almost half
#: of the listeners had them the other way round.
JUDGED = {
    "ionian": "the happiest of six modes",
    "lydian": "less happy than ionian, near mixolydian",
    "mixolydian": "less happy than ionian and happier than dorian",
    "dorian": "less happy than the modes with a major third and happier than aeolian",
    "aeolian": "the second least happy of six modes",
    "phrygian": "the least happy of six modes",
}


class Mood(NamedTuple):
    """``happy``: what it asks of the mode, in words. ``pace``: what STRUCTURE says of its tempo; ""
    where it says nothing of it.
    """

    scales: tuple[str, ...]
    happy: str
    tempo: tuple[int, int]
    pace: str
    cycles: tuple[str, ...]
    swings: tuple[str, ...]
    techniques: tuple[str, ...]


_EVEN = ("4/4", "4/4 4/4")
_CALM = ("4/4", "3/4", "6/8")
_ODD = ("7/8", "5/4", "4/4 4+3/8", "3+4/8")
_LONG = ("long notes, let them ring", "slides between the long notes", "fingers near the neck, soft")
_SHORT = ("short notes, every one let go early", "palm muted, with the thumb", "fingers near the bridge, short")
_DRIVE = ("pick, palm muted", "repeated notes with the pick", "fingers, hard, accents on the groups")
_LIVELY = ("hammer-ons and pull-offs", "octaves", "ghost notes between the beats")

MOODS: dict[str, Mood] = {
    "happy": Mood(("ionian", "lydian", "mixolydian", "major pentatonic"), "the happier modes", (108, 152),
                  "a fast tempo goes with happiness", ("4/4", "4/4 4/4", "6/8"), ("straight", "58% 1/8"), _LIVELY),
    "bright": Mood(("lydian", "ionian", "major pentatonic"), "the happier modes", (100, 138),
                   "a fast tempo goes with happiness and activity", _EVEN, ("straight", "56% 1/16"), _LIVELY),
    "playful": Mood(("mixolydian", "lydian", "major blues"), "the happier modes", (104, 144),
                    "a fast tempo goes with activity and surprise", ("4/4", "6/8", "7/8"), ("60% 1/8", "58% 1/16"), _LIVELY),
    "calm": Mood(("ionian", "mixolydian", "dorian", "major pentatonic"), "modes with few lowered degrees", (56, 80),
                 "a slow tempo goes with calm", _CALM, ("straight",), _LONG),
    "tender": Mood(("ionian", "dorian", "major pentatonic"), "modes with few lowered degrees", (56, 82),
                   "a slow tempo goes with tenderness", _CALM, ("straight",), _LONG),
    "dreamy": Mood(("lydian", "dorian", "aeolian"), "modes away from the plain major", (60, 88),
                   "a slow tempo goes with calm", ("3/4", "6/8", "4/4 4/4"), ("straight",), _LONG),
    "solemn": Mood(("aeolian", "dorian"), "the less happy modes", (52, 76), "a slow tempo goes with dignity",
                   ("4/4", "4/4 4/4", "3/4"), ("straight",), _LONG),
    "sad": Mood(("aeolian", "dorian", "phrygian", "minor pentatonic"), "the less happy modes", (54, 80),
                "a slow tempo goes with sadness", _CALM, ("straight",), _LONG),
    "dark": Mood(("phrygian", "aeolian", "harmonic minor", "phrygian dominant"), "the least happy modes", (60, 92),
                 "a slow tempo goes with sadness and dignity", ("4/4", "4/4 4/4", "6/8", "7/8"), ("straight",),
                 ("palm muted, let the last note ring", "slides from below", "fingers near the neck, heavy")),
    "heavy": Mood(("phrygian", "aeolian", "minor pentatonic"), "the least happy modes", (66, 104),
                  "", ("4/4", "4/4 4/4 4/4 2/4", "7/8"), ("straight",), _DRIVE),
    "tense": Mood(("phrygian", "locrian", "harmonic minor"), "the least happy modes", (116, 160),
                  "a fast tempo goes with fear and activity", _ODD, ("straight",), _SHORT),
    "angry": Mood(("phrygian", "aeolian", "phrygian dominant"), "the least happy modes", (128, 176),
                  "a fast tempo goes with anger", ("4/4", "7/8", "4/4 4+3/8"), ("straight",), _DRIVE),
    "restless": Mood(("dorian", "aeolian", "mixolydian"), "modes neither happiest nor least happy", (112, 156),
                     "a fast tempo goes with activity", _ODD, ("straight", "55% 1/16"), _SHORT),
    "groovy": Mood(("dorian", "mixolydian", "minor pentatonic"), "modes in the middle", (88, 112),
                   "", _EVEN, ("58% 1/16", "56% 1/16", "straight"), ("ghost notes between the beats", *_SHORT[:1], "octaves")),
    "bluesy": Mood(("minor blues", "mixolydian", "major blues"), "modes in the middle", (72, 116),
                   "", ("4/4 4/4", "4/4 4/4 4/4 4/4", "12/8"), ("2:1 1/8", "62% 1/8"),
                   ("walking, one note a beat", "slides into the third", "behind the beat")),
}  # fmt: skip

#: Other words for the same.
WORDS = {
    "joyful": "happy", "cheerful": "happy", "glad": "happy", "sunny": "bright", "light": "bright", "funny": "playful",
    "peaceful": "calm", "relaxed": "calm", "quiet": "calm", "serene": "calm", "gentle": "tender", "warm": "tender",
    "floating": "dreamy", "mysterious": "dark", "gloomy": "dark", "sombre": "dark", "somber": "dark", "night": "dark",
    "melancholy": "sad", "melancholic": "sad", "mournful": "sad", "lonely": "sad", "dignified": "solemn", "grave": "solemn",
    "scary": "tense", "fearful": "tense", "anxious": "tense", "nervous": "restless", "urgent": "restless",
    "aggressive": "angry", "furious": "angry", "fierce": "angry", "funky": "groovy", "funk": "groovy", "blue": "bluesy",
    "blues": "bluesy", "energetic": "restless", "excited": "playful", "brutal": "heavy",
}  # fmt: skip


def known_words() -> set[str]:
    """Every word that names a mood."""
    return {*MOODS, *WORDS}


def find_mood(text: str) -> str:
    """The mood that a word or a phrase names (the first one it has a word of).

    Raises UserError with the moods there are.
    """
    for word in text.lower().replace(",", " ").split():
        if word in known_words():
            return WORDS.get(word, word)
    near = nearest(text, known_words())
    meant = f": did you mean {near}?" if near else f"; there are {', '.join(MOODS)}."
    raise UserError(f"Nothing is known of the mood {text[:40]!r}{meant}")
