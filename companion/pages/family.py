"""The family's pages: every route of child and parent, in one list."""

from __future__ import annotations

from companion.pages import door, stage_pages, start
from companion.pages.room import lifespan
from companion.pages.serve import Site

SITE = Site(
    name="family",
    title="Wordhearth's pages",
    routes=[*start.ROUTES, *door.ROUTES, *stage_pages.ROUTES],
    lifespan=lifespan,
)
