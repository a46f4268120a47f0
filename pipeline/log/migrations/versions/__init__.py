"""One module for each change of the tables. What was released is never changed any more."""
