"""What all rooms know: data types, errors, texts, files, and the table of measures."""
