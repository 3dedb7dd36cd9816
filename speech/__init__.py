"""The ear and the voice. Nothing here knows of children, logs or pages."""

import os

# onnxruntime 1.29 and later writes an identifier to disk and reports each session to its maker,
# unless this is set before it is loaded (its Privacy.md). pyproject.toml keeps to versions without.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
