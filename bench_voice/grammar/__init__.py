"""What the ears listen for at a step: words from the language data and the job sheet."""
