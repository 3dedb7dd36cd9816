"""The application: what a child reads, what was heard, what is kept, and what it comes to."""
