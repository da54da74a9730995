"""audio"""
