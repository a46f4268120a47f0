"""The page on which a person marks the field on the first frame of a film."""
