"""What is kept of a child: consent, the log, how long it stays, and how it goes."""
