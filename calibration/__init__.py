"""The camera: how pixels become metres on the field, and how sure that is."""
