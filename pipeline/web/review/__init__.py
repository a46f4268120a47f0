"""The page on which a coach looks at reps, says what is so, and changes what they are held to."""
