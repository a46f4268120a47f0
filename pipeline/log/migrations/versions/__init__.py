"""One module per change of the tables. Released migrations must not change."""
