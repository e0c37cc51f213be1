"""The script: what is spoken and sung in every scene, what a scene sounds of, and what a revision of it changes."""
