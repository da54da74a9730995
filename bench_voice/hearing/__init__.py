"""hearing"""
