"""The words an adult agrees to, and their version. Change the words, change the version.

What must be said: UK General Data Protection Regulation, Articles 4(11), 7, 8 and 13 (from
memory); Information Commissioner's Office, Age appropriate design: a code of practice for online
services, 2020 (from memory): high privacy by default, no nudging, and the child is told when an
adult can see.
"""

from __future__ import annotations

from dataclasses import dataclass

TEXT_VERSION = "3 (25 November 2026)"


@dataclass(frozen=True)
class Choice:
    """One thing an adult may say yes to, by itself.

    Attributes
    ----------
    name : str
        How commands and files name it.
    question : str
        What is asked; the answer is no unless it is yes.
    meaning : str
        What yes allows.
    needs : str or None
        Another choice without which this one has nothing to act on.
    """

    name: str
    question: str
    meaning: str
    needs: str | None = None


CHOICES: tuple[Choice, ...] = (
    Choice(
        "practise",
        "Listen while the child reads?",
        "The microphone is opened during a sitting and closed when it ends, or recordings that "
        "you name are listened to.",
    ),
    Choice(
        "keep_log",
        "Keep a log of what was read?",
        "The readings are kept on this computer so that you can have a week sheet.",
    ),
    Choice(
        "hand_in",
        "Make summaries for school?",
        "A weekly summary may be made for you to hand to the school: for each sound how often it "
        "was read and how, under the code the school gave the child, without name, sound or the "
        "words themselves. Nothing is handed over unless you do it yourself, each time.",
        needs="keep_log",
    ),
    Choice(
        "keep_clips",
        "Keep the sound of each reading for 7 days?",
        "A sound clip is kept beside each reading so that you can check a mark by ear, and is "
        "erased after 7 days.",
        needs="keep_log",
    ),
)

SECTIONS: tuple[tuple[str, str], ...] = (
    (
        "Who this is for",
        "An adult with parental responsibility for the child. Please read it before you answer, "
        "and tell the child in your own words. The child may stop at any time.",
    ),
    (
        "Who is responsible",
        "You are. Wordhearth runs on this computer only and sends nothing anywhere: its makers "
        "and the school receive nothing from it. If you hand a summary to the school, the school "
        "becomes responsible for its copy: ask the school office for its data protection officer. "
        "A sealed summary can be opened by the class teacher only; a plain one by anybody who has "
        "it.",
    ),
    (
        "What is listened to",
        "The child reading one word at a time, from when the word is shown until the reading "
        "ends; and, where you start it, the child saying words after the computer. The screen says "
        "when it is listening.",
    ),
    (
        "What happens to the sound",
        "It is held in memory while the word is judged, then dropped. It is not kept, and it is "
        "not sent. Nothing is made from it that could recognise a voice. Only if you choose sound "
        "clips are they kept, here, for 7 days.",
    ),
    (
        "What is kept, if you choose the log",
        "For each reading: the date and time, the list and the word shown, the sounds that were "
        "heard (as text), the mark and how sure the program was, the accent setting, and your "
        "correction if you made one. A nickname or picture label for the child if you give one. "
        "No name, no age, no notes about the child. If you load what the school sends home: the "
        "child's code and what the class is taught. If you make summaries: the key that signs them "
        "and how many were made. Your answers on this page, with their date "
        "and the version of these words, are kept whichever you choose; so is how the pages are "
        "set, such as the size of the letters, once you set it; and, once the child has said words "
        "after the computer, five small numbers on how its short and long vowels are heard, until "
        "you erase them.",
    ),
    (
        "Why, and for how long",
        "To show you, and later the teacher if you choose, which sounds need practice. Single "
        "readings are kept for 8 weeks, then only weekly counts for each sound remain. Counts stay "
        "until you erase them.",
    ),
    (
        "Who sees it",
        "Whoever uses this computer account. The teacher sees a summary only if you hand it over.",
    ),
    (
        "It can be wrong",
        "It mishears at times, and says when it cannot tell. You may correct any mark. It is not "
        "a test and not a diagnosis of dyslexia, hearing or speech. If something worries you for "
        "a while, talk to the class teacher or the SENCo.",
    ),
    (
        "Your rights",
        "You may see each reading that is kept (wordhearth week --readings), correct its mark "
        "(wordhearth week --correct), take back any answer, and erase everything, whenever you "
        "like and as easily as you agreed (wordhearth consent --withdraw). Erasing overwrites the "
        "files here. Backups you made, and copies a disk keeps to itself, are beyond the "
        "program's reach; a summary already handed over is with the school, so ask the school.",
    ),
    (
        "Saying no",
        "Saying no, or changing your mind, changes nothing for the child at school.",
    ),
    (
        "If you are not content",
        "Where a school or another organisation is responsible, you may complain to it, and to "
        "the Information Commissioner's Office (ICO), the United Kingdom's regulator for personal "
        "data.",
    ),
)

CHILD_LINE_KEPT = "The grown-ups at home can see the words you read. Nobody else can."
CHILD_LINE_CLIPS = "The grown-ups at home can see the words you read, and hear them for a week."
CHILD_LINE_NOT_KEPT = "Nothing you read is kept."


def child_line(keep_log: bool, keep_clips: bool) -> str:
    """The one line a child hears about who can see what was read."""
    if not keep_log:
        return CHILD_LINE_NOT_KEPT
    return CHILD_LINE_CLIPS if keep_clips else CHILD_LINE_KEPT
