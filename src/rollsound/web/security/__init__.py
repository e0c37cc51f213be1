"""The doors: who may come in, from where, and what each may do. What is defended is listed in docs/security.md."""
