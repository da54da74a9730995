"""Adapters of the ports: microphone, recordings, endpointer, ears, voice, player; one third-party library a file."""
