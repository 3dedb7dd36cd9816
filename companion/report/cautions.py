"""What every summary says of itself, so that nobody takes it for more than it is."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "This is not a diagnosis of dyslexia, hearing or speech, and not the phonics screening check.",
    "The listener can be wrong, and a child reads the same word well one day and not the next. "
    "Your own ear counts for more: you can correct any mark.",
    "Sounds that children of this age are still learning to say (th, r, a lisp) are never marked.",
    "If a worry lasts, talk to the class teacher or the SENCo first.",
    "What is handed to a school follows the school's data policy and local law.",
)
