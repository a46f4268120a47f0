"""The page on which a person marks the field: clicks on the first frame, and sees the camera."""
