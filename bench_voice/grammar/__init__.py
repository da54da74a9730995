"""grammar"""
