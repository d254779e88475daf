"""What a hand types in two words that the shell hands over as two: ``24 kg``, ``mon 13:10``."""

import re
from collections.abc import Sequence

_NUMBER = re.compile(r"[0-9][0-9.,]*")
_UNIT = re.compile(
    r"g|grams?|kgs?|kilos?|lbs?|pounds?|oz|ml|cc|l|psig?|bar|k?pa|mpa|cmh2o|mbar|mmhg|lpm|(?:m?l|cc)/min|l/m|%|h|hrs?|min|mins|s",
    re.IGNORECASE,
)
_DAY = re.compile(
    r"today|yesterday|(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*|[0-9]{4}-[0-9]{2}-[0-9]{2}"
    r"|[0-9]{1,2}/[0-9]{1,2}/[0-9]{2,4}",
    re.IGNORECASE,
)
_CLOCK = re.compile(r"[0-9]{1,2}:[0-9]{2}.*|[0-9]{3,4}|[0-9]{1,2}[ap]\.?m\.?", re.IGNORECASE)
_TIME = re.compile(r"(?:.* )?(?:[0-9]{1,2}|[0-9]{1,2}:[0-9]{2})")
_HALF = re.compile(r"[ap]\.?m\.?", re.IGNORECASE)

# Which word after which makes one value, and what stands between them.
_PAIRS = ((_NUMBER, _UNIT, ""), (_DAY, _CLOCK, " "), (_TIME, _HALF, ""))


def joined(arguments: Sequence[str]) -> list[str]:
    """The words of a command, with those in one that a hand wrote apart."""
    words: list[str] = []
    for word in arguments:
        between = _between(words[-1], word) if words else None
        if between is None:
            words.append(word)
        else:
            words[-1] = f"{words[-1]}{between}{word}"
    return words


def _between(before: str, word: str) -> str | None:
    for first, second, between in _PAIRS:
        if first.fullmatch(before) and second.fullmatch(word):
            return between
    return None
