"""Output of an analysis: the report page, pictures, films, and result files."""
