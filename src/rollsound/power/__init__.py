"""What the day runs on: batteries, supplies, wires, and how long they last."""
