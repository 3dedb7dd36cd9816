"""The one shape every error of the ear and the voice has: what happened, why, how to mend it."""


class Trouble(Exception):
    """An error that a parent or a teacher can act on.

    Parameters
    ----------
    what : str
        What happened, naming the thing it happened to.
    why : str
        The cause, as far as it is known.
    mend : str
        What to do next.

    """

    def __init__(self, what: str, why: str, mend: str) -> None:
        super().__init__(what, why, mend)
        self.what = what
        self.why = why
        self.mend = mend

    def __str__(self) -> str:
        return f"{self.what}: {self.why}. {self.mend}"
