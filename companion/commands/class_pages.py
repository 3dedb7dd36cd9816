"""``wordhearth class`` with no further word: the class pages, on this computer only."""

from __future__ import annotations

import argparse

from companion.commands import classroom, household
from companion.pages.school_site import site
from companion.pages.serve import serve
from companion.record.home import data_home
from speech.trouble import Trouble


def run(args: argparse.Namespace) -> int:
    """Serve the pages until stopped."""
    try:
        return serve(site(classroom.book_path(args)), data_home(args.home), args.port, args.browser)
    except Trouble as error:
        household.tell(error)
        return 1
