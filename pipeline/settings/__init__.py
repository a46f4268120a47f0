"""What the user requested: settings, their checks, and the file beside a clip."""
