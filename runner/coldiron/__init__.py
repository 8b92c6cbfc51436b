"""Coldiron: what would this change do to this lamp, before the soldering iron is hot?"""
