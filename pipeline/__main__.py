"""Lets `python -m pipeline` do what the command `crossemetry` does."""

from pipeline.cli import main

main(prog_name="crossemetry")
