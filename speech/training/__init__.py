"""How the phone network was made. Needs the train extra; the program imports none of it."""
