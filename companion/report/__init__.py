"""What a log comes to: the week sheet."""
