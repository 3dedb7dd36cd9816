"""`wordhearth` with no command: the family's pages, on this computer only."""

from __future__ import annotations

import argparse

from companion.commands import household
from companion.pages.family import SITE
from companion.pages.serve import serve
from companion.record.home import data_home
from speech.trouble import Trouble


def run(args: argparse.Namespace) -> int:
    """Serve the pages until stopped."""
    try:
        return serve(SITE, data_home(args.home), port=args.port, browser=args.browser)
    except Trouble as error:
        household.tell(error)
        return 1
