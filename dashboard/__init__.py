"""The screens. They ask `pipelines.answers` and draw what it says; nothing is computed here."""
