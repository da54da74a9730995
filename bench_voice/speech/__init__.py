"""Words to meaning and meaning to words: pure, no input or output beyond the language data in grammars/."""
