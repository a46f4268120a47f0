"""The local pages: one server and its guard, the review, and the field page."""
