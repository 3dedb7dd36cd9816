"""Data a teacher can read and edit: the GPC table, words, accents and lists."""
