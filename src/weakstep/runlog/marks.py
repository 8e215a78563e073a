"""The marks and words that stand for nothing, for the row above, for yes and for no."""

from __future__ import annotations


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split("|"))


MISSING_WORDS = _words(
    "|-|--|---|–|—|.|..|/|?|??|n/a|na|n.a.|n.a|nan|#n/a|none|null|nil|missing|not measured|"
    "not recorded|not logged|unknown|k.a.|ka|nd|n.d.|forgot|forgotten|x"
)
# Names may be short: "x", "na" or "." can be somebody's mould or initials.
MISSING_NAMES = MISSING_WORDS - _words("x|ka|nd|na|.|unknown|none")
DITTO_WORDS = _words(
    "\"|\"\"|''|〃|„|“|”|,,|-\"-|-„-|-''-|↓|″|ditto|do.|same|same as above|as above|as before|"
    "idem|id.|dito|dto|dto.|detto|s.o.|s. o.|wie oben|wie vor|gleich|comme ci-dessus|"
    "comme dessus|pareil|igual|ídem|lo mismo|como arriba"
)
DITTO_FORMS = frozenset(
    form for word in DITTO_WORDS for form in (word, word.capitalize(), word.upper(), word.title())
)
OVERNIGHT_WORDS = _words("overnight|o/n|on|over night|über nacht|ü/n|nuit")
COUNT_WORDS = _words("x|×|times|mal|pcs|pc|pieces|holes|passes|uses|casts|runs|stk")
YES_WORDS = _words("yes|y|1|1.0|true|t|x|✓|✔|☑|ja|j|oui|o|si|sí|ok|wahr|vrai|verdadero")
NO_WORDS = _words("no|n|0|0.0|false|f|none|✗|✘|☐|nein|non|never|falsch|faux|falso")
