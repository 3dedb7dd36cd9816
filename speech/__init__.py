"""The ear and the voice. Nothing here knows of children, logs or pages."""
