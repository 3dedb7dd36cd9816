"""The grown-ups' pages about one child: every route of them."""

from __future__ import annotations

from companion.pages import parent_kept, parent_readings, parent_school, parent_week

ROUTES = [
    *parent_week.ROUTES,
    *parent_readings.ROUTES,
    *parent_school.ROUTES,
    *parent_kept.ROUTES,
]
