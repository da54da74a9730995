"""session"""
