"""The equipment: its pieces, what each kind of them is like, and how it travels."""
