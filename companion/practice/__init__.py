"""Hearing a child read: the turn, its judgement, and the sitting."""
