"""Lets `python -m pipeline` do what the command `crossemetry` does."""

from pipeline.commands.main import main

main(prog_name="crossemetry")
