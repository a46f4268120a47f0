"""The move classifier: its weights, and the simulator and script that made them."""
