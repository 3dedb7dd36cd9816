"""The family's pages: every route of child and parent, in one list."""

from __future__ import annotations

from companion.pages import start
from companion.pages.serve import Site

SITE = Site(name="family", title="Wordhearth's pages", routes=[*start.ROUTES])
