"""The page on which a coach reviews reps, corrects them and edits target ranges."""
