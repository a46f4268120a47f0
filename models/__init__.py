"""The pose model bundles with their origin, licence and checksums."""
