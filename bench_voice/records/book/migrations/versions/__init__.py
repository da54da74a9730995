"""The changes themselves."""
