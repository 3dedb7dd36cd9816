"""Local pages for child, parent and teacher: served on this computer, to this computer only."""
