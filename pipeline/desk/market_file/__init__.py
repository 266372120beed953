"""The market file by forms: what can be edited, the change as a text, its faults, the diff, saving and undoing."""
