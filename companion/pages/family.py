"""The family's pages: every route of child and parent, in one list."""

from __future__ import annotations

from companion.pages import door, first_run, parent, settings_pages, stage_pages, start
from companion.pages.room import lifespan
from companion.pages.serve import Site

SITE = Site(
    name="family",
    title="Wordhearth's pages",
    routes=[
        *start.ROUTES,
        *first_run.ROUTES,
        *door.ROUTES,
        *parent.ROUTES,
        *settings_pages.ROUTES,
        *stage_pages.ROUTES,
    ],
    lifespan=lifespan,
)
