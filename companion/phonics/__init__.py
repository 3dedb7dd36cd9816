"""What a teacher knows: GPCs, splitting words, accents, likely slips, decodability."""
