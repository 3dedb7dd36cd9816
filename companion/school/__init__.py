"""The class book: register, what is taught, families' summaries, and what they come to."""
