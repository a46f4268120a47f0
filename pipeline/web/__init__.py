"""The local pages: server and guard, review page, field page."""
