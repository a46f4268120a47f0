"""Results in the formats that other programs read: tables and motion files."""
