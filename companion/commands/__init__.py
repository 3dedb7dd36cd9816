"""One module for each command of ``wordhearth``."""
