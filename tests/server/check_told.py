#!/usr/bin/env python3
"""Are the addresses that API.md tells those that the table answers, with the same methods? check_told.py SOURCE_TREE"""
import re
import sys

tree = sys.argv[1]
told = set()
for line in open(f"{tree}/src/server/API.md", encoding="utf-8"):
    row = re.match(r"\| (GET|POST|DELETE) `([^`?{ ]+)", line)
    if row:
        parts = ["*" if part.isupper() else part for part in row.group(2).split("/")]
        told.add((row.group(1), "api/" + "/".join(parts)))
table = open(f"{tree}/src/server/server_api.c", encoding="utf-8").read()
answered = set(re.findall(r'\{SERVER_(\w+), "([^"]+)"', table))
for method, address in sorted(told ^ answered):
    print(f"{method} {address}: {'not told in API.md' if (method, address) in answered else 'told, but not answered'}")
print(f"{len(told & answered)} addresses told and answered")
sys.exit(1 if told != answered or len(told) < 20 else 0)
