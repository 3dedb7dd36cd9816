"""What a child's class has been taught, as far as this home has been told."""

from __future__ import annotations

from companion.phonics.decodable import named
from companion.phonics.gpc import Gpc, Order, table
from companion.record import today
from companion.record.home import ChildFolder
from companion.report.home_school import joined


def at_home(folder: ChildFolder) -> tuple[Order, frozenset[Gpc] | None]:
    """The teaching order, and the GPCs taught; None where nobody has said.

    What the school sent counts first, then the sound that the household set.

    Raises
    ------
    FamilyUnreadable, TodayUnreadable, TableError
        What is kept cannot be used.
    """
    school = joined(folder)
    if school is not None:
        return school.order, frozenset(school.taught)
    order = table().order()
    newest = today.read(folder)
    return order, None if newest is None else order.up_to(named(newest, order)[-1])
