"""The pack plan: which pack, boom and track each character gets over the schedule, and every re-rig that it costs."""
