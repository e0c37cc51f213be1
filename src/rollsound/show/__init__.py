"""The plan document: its model, its text, its history, and the folder it lives in."""
