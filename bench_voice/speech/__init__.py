"""speech"""
